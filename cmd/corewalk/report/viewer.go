package report

import (
	"bytes"
	"compress/zlib"
	"encoding/base64"
	"encoding/binary"
	"math"
	"strconv"
	"strings"

	"corewalk/geo/plane"
	"corewalk/geo/raster"
)

// layer is what the ground of the large map can be coloured by. It is drawn
// once, in a figure of its own further down the page.
type layer struct {
	ID, Group, Name string
	Doubtful        bool
}

// ground is what the page's script knows of a large map. Lengths are in map units
// unless they are said to be in metres.
type ground struct {
	Width   float64      `json:"width"`
	Height  float64      `json:"height"` // without scale bar and arrow
	Scale   float64      `json:"scale"`  // map units to the metre
	Left    float64      `json:"left"`   // the place on the map ...
	Top     float64      `json:"top"`
	West    float64      `json:"west"` // ... of these metres in the frame of the field
	North   float64      `json:"north"`
	Corners [][2]float64 `json:"corners,omitempty"` // degrees of longitude and latitude: north-west, north-east, south-west, south-east
	Layers  []layerData  `json:"layers"`
	Units   []namedPath  `json:"units"`
	Places  []namedPlace `json:"places"` // composites without a sampling unit
	Patches []namedPath  `json:"patches"`
}

// layerData is a layer as a value is read off it.
type layerData struct {
	ID     string            `json:"id"`     // of the figure that shows it; its parts have ids that begin so
	Name   string            `json:"name"`   // before a value
	Unit   string            `json:"unit"`   // behind it
	Banner string            `json:"banner"` // what nobody may overlook
	Own    map[string]string `json:"own,omitempty"`
	Grid   *packedGrid       `json:"grid,omitempty"`
	Areas  bool              `json:"areas"` // its ground is made of areas that say what they are
}

// namedPath is a shape on the page and what to say where it is met.
type namedPath struct {
	Path string `json:"path"`
	Text string `json:"text"`
}

// namedPlace is a composite that brought its own coordinates, on the map.
type namedPlace struct {
	X    float64 `json:"x"`
	Y    float64 `json:"y"`
	Key  string  `json:"key"` // of its figures
	Text string  `json:"text"`
}

// packedGrid is a surface in whole steps of its last digit, from north to south
// and west to east. A pixel without a value is a 0, any other one more than its
// difference from what its neighbours to the west and north let expect, zigzag,
// as a varint; zlib, base64.
type packedGrid struct {
	West   float64 `json:"west"` // metres in the frame
	North  float64 `json:"north"`
	Pixel  float64 `json:"pixel"`
	Width  int     `json:"width"`
	Height int     `json:"height"`
	Places int     `json:"places"` // decimals
	Data   string  `json:"data"`
}

// gridRoom is how many bytes of the page all surfaces together may take. Pictures
// are bounded apart.
const gridRoom = 1 << 20

func pack(g *raster.Grid, places int) *packedGrid {
	out := &packedGrid{West: g.West, North: g.North, Pixel: g.Pixel, Width: g.Width, Height: g.Height, Places: places}
	var packed bytes.Buffer
	z, _ := zlib.NewWriterLevel(&packed, zlib.BestCompression) // the level is a good one
	const none = int64(-1 << 62)
	above, here := make([]int64, g.Width+1), make([]int64, g.Width+1) // from the pixel west of the first
	for i := range above {
		above[i], here[i] = none, none
	}
	last := int64(0)
	var digits []byte
	var token [binary.MaxVarintLen64]byte
	for row := range g.Height {
		for col := range g.Width {
			f := g.Data[row*g.Width+col]
			v := float64(f)
			here[col+1] = none
			if f == raster.NoData || !finite(v) {
				z.Write([]byte{0})
				continue
			}
			// As the tables round.
			digits = strconv.AppendFloat(digits[:0], v, 'f', places, 64)
			digits = bytes.Replace(digits, []byte("."), nil, 1)
			n, err := strconv.ParseInt(string(digits), 10, 54)
			if err != nil {
				return nil // too large to be told by
			}
			expected := last
			switch west, north, between := here[col], above[col+1], above[col]; {
			case west != none && north != none && between != none:
				expected = west + north - between
			case west != none:
				expected = west
			case north != none:
				expected = north
			}
			here[col+1], last = n, n
			d := n - expected
			z.Write(token[:binary.PutUvarint(token[:], uint64(d<<1^d>>63)+1)])
		}
		above, here = here, above
	}
	z.Close()
	out.Data = base64.StdEncoding.EncodeToString(packed.Bytes())
	return out
}

// ground begins what the script knows of the map of a field.
func (s *site) ground(f *Field) {
	v := s.view
	s.Ground = &ground{
		Width: v.width, Height: v.height - footing, Scale: v.scale, Left: v.left, Top: v.top, West: v.west, North: v.north,
		Layers: []layerData{}, Units: []namedPath{}, Places: []namedPlace{}, Patches: []namedPath{},
	}
	for i, u := range f.Units {
		switch {
		case len(u.Shape) > 0:
			s.Ground.Units = append(s.Ground.Units, namedPath{unitID(s.Field, i), u.ID + " in " + division(u)})
		case finite(u.At[0]) && finite(u.At[1]):
			at := v.spot(u.At)
			s.Ground.Places = append(s.Ground.Places, namedPlace{math.Round(at.x*10) / 10, math.Round(at.y*10) / 10, unitID(s.Field, i), u.ID})
		}
	}
	if f.LonLat == nil {
		return
	}
	for _, y := range []float64{0, s.Ground.Height} {
		for _, x := range []float64{0, v.width} {
			at, err := f.LonLat(plane.XY{v.west + (x-v.left)/v.scale, v.north - (y-v.top)/v.scale})
			if err != nil {
				s.Ground.Corners = nil
				return
			}
			s.Ground.Corners = append(s.Ground.Corners, at)
		}
	}
}

// addAnalyte makes the map of an analyte a layer of the large one.
func (p *page) addAnalyte(s *site, f *Field, a *Analyte, m *surfaceMap) {
	fig := figuresOf(a)
	x := layerData{ID: m.ID, Name: a.label(), Unit: a.Unit, Own: map[string]string{}}
	if m.Banner != nil {
		x.Banner = m.Banner.Text
	}
	values := valuesByID(a)
	for i, u := range f.Units {
		if v, ok := values[u.ID]; ok {
			x.Own[unitID(s.Field, i)] = fig.value(v)
		}
	}
	if m.Picture != nil {
		if g := pack(a.Grid, fig.means); g != nil {
			if p.Unread = p.Unread || len(g.Data) > p.gridRoom; len(g.Data) <= p.gridRoom {
				p.gridRoom -= len(g.Data)
				x.Grid = g
			}
		}
	}
	s.Ground.Layers = append(s.Ground.Layers, x)
	s.Layers = append(s.Layers, layer{m.ID, "Figures of the lab", a.label(), m.Banner != nil})
	for _, set := range a.Patches {
		if len(set.Patches) > 0 && len(s.Ground.Patches) == 0 {
			s.Key = append(s.Key, keyItem{"p0", "patch: ground beyond a limit"})
		}
		for _, patch := range set.Patches {
			s.Ground.Patches = append(s.Ground.Patches, namedPath{m.patchPaths[patch.ID], "patch " + patch.ID + ": " + set.Limit})
		}
	}
}

// addZones makes a map of zones or of rates a layer of the large one.
func (s *site) addZones(group, name, before string, m *zoneMap) {
	x := layerData{ID: m.ID, Name: before, Areas: true}
	if m.Banner != nil {
		x.Banner = m.Banner.Text
	}
	s.Ground.Layers = append(s.Ground.Layers, x)
	s.Layers = append(s.Layers, layer{m.ID, group, name, m.Banner != nil})
}

// Groups returns the layers as a list offers them.
func (s *site) Groups() [][]layer {
	var out [][]layer
	at := map[string]int{}
	for _, l := range s.Layers {
		i, known := at[l.Group]
		if !known {
			i = len(out)
			at[l.Group] = i
			out = append(out, nil)
		}
		out[i] = append(out[i], l)
	}
	return out
}

// spoken joins what is said of an area.
func spoken(parts ...string) string {
	var said []string
	for _, x := range parts {
		if x != "" {
			said = append(said, x)
		}
	}
	return strings.Join(said, ", ")
}
