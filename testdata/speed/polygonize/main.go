// Command polygonize makes invented rasters of classes and times the drawing of
// their outlines, for polygonize.sh.
package main

import (
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"time"

	"corewalk/geo/plane"
	"corewalk/geo/raster"
	"corewalk/interp/zone"
)

const size = 2000 // pixels each way, of a metre

func main() {
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func run(args []string) error {
	if len(args) != 2 {
		return fmt.Errorf("usage: polygonize (make|time) FILE; the name of the file tells what it holds: smooth or noise")
	}
	if args[0] == "make" {
		return write(args[1])
	}
	data, err := os.ReadFile(args[1])
	if err != nil {
		return err
	}
	class := make([]int32, size*size)
	for i := range class {
		class[i] = int32(binary.LittleEndian.Uint32(data[4*i:]))
	}
	g := raster.Geometry{North: size, Pixel: 1, Width: size, Height: size}
	start := time.Now()
	outlines, err := zone.Outlines(g, class)
	if err != nil {
		return err
	}
	seconds := time.Since(start).Seconds()
	area := 0.0
	for _, o := range outlines {
		area += float64(o.Class+1) * plane.Shape{o.Polygon}.Area()
	}
	fmt.Printf("%.4f %d %.0f\n", seconds, len(outlines), area)
	return nil
}

// write makes five classes: waves a hundred pixels long, or noise.
func write(name string) error {
	r := rand.New(rand.NewPCG(1, 1))
	data := make([]byte, 0, 4*size*size)
	for row := range size {
		for col := range size {
			v := r.Uint32N(5)
			if len(name) > 10 && name[len(name)-10:] == "smooth.raw" {
				x, y := float64(col), float64(row)
				v = uint32(2.5 + 1.2*math.Sin(x/31+y/57)*math.Cos(y/43-x/91) + 1.2*math.Sin(x/17)*math.Sin(y/23))
			}
			data = binary.LittleEndian.AppendUint32(data, v)
		}
	}
	if err := os.WriteFile(name, data, 0o666); err != nil {
		return err
	}
	header := fmt.Sprintf(`<VRTDataset rasterXSize="%d" rasterYSize="%d"><GeoTransform>0,1,0,%d,0,-1</GeoTransform>
<VRTRasterBand dataType="Int32" band="1" subClass="VRTRawRasterBand"><SourceFilename relativetoVRT="0">%s</SourceFilename>
<ImageOffset>0</ImageOffset><PixelOffset>4</PixelOffset><LineOffset>%d</LineOffset><ByteOrder>LSB</ByteOrder></VRTRasterBand></VRTDataset>`, size, size, size, name, 4*size)
	return os.WriteFile(name+".vrt", []byte(header), 0o666)
}
