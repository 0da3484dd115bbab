package crs

import (
	"fmt"
	"math"
	"strings"
)

// wktMethod is how one name of a projection method is read.
type wktMethod struct {
	method method
	needs  string // parameters that must be there, besides the false origin
	may    string // parameters that may be there
	finish func(p *params, given map[string]bool) error
}

// wktMethodOf finds a method by its name in WKT1 of ESRI, WKT1 of OGC and GDAL,
// or WKT2 (plain form).
func wktMethodOf(name string) (wktMethod, bool) {
	switch name {
	case "transversemercator", "gausskruger", "transversemercatorcomplex":
		return wktMethod{methodTM, "lat0 lon0 k", "", nil}, true
	case "lambertconformalconic1sp", "lambertconicconformal1sp":
		return wktMethod{methodLCC, "lat0 lon0 k", "", oneParallelAtOrigin}, true
	case "lambertconicconformal1spvariantb":
		return wktMethod{methodLCC, "lat0 lon0 lat1 k", "", oneParallel}, true
	case "lambertconformalconic2sp", "lambertconicconformal2sp", "lambertconicconformal2spmichigan":
		return wktMethod{methodLCC, "lat0 lon0 lat1 lat2", "k", nil}, true
	case "lambertconformalconic": // ESRI's, for one parallel and for two
		return wktMethod{methodLCC, "lat0 lon0 lat1", "lat2 k", oneParallelOrTwo}, true
	case "albers", "albersequalarea", "albersconicequalarea":
		return wktMethod{methodAlber, "lat0 lon0 lat1 lat2", "", nil}, true
	case "mercator1sp", "mercatorvarianta":
		return wktMethod{methodMerc, "lon0 k", "lat0", atEquator}, true
	case "mercator2sp", "mercatorvariantb":
		return wktMethod{methodMerc, "lon0 lat1", "lat0", atEquator}, true
	case "mercator": // ESRI's
		return wktMethod{methodMerc, "lon0", "lat0 lat1 k", atEquator}, true
	case "mercatorauxiliarysphere", "popularvisualisationpseudomercator":
		return wktMethod{methodWeb, "lon0", "lat0 lat1 k", webForm}, true
	case "lambertazimuthalequalarea":
		return wktMethod{methodLAEA, "lat0 lon0", "", nil}, true
	case "doublestereographic", "obliquestereographic":
		return wktMethod{methodDbl, "lat0 lon0 k", "", nil}, true
	case "polarstereographicvarianta":
		return wktMethod{methodPolar, "lat0 lon0 k", "", polarByOrigin}, true
	case "polarstereographic": // WKT1, for both variants
		return wktMethod{methodPolar, "lat0 lon0", "k", polarByOrigin}, true
	case "polarstereographicvariantb", "stereographicnorthpole", "stereographicsouthpole":
		return wktMethod{methodPolar, "lon0 lat1", "k", polarByParallel}, true
	}
	return wktMethod{}, false
}

// wktParam gives the column of a parameter by its name (plain form).
func wktParam(name string) string {
	switch name {
	case "latitudeoforigin", "latitudeofcenter", "latitudeofcentre", "latitudeofnaturalorigin", "latitudeoffalseorigin", "latitudeofprojectioncentre":
		return "lat0"
	case "centralmeridian", "longitudeofcenter", "longitudeofcentre", "longitudeofnaturalorigin", "longitudeoffalseorigin", "longitudeofprojectioncentre", "longitudeoforigin":
		return "lon0"
	case "standardparallel1", "latitudeof1ststandardparallel", "latitudeofstandardparallel":
		return "lat1"
	case "standardparallel2", "latitudeof2ndstandardparallel":
		return "lat2"
	case "scalefactor", "scalefactoratnaturalorigin", "scalefactoratprojectioncentre", "ellipsoidscalingfactor":
		return "k"
	case "falseeasting", "eastingatfalseorigin", "eastingatprojectioncentre":
		return "fe"
	case "falsenorthing", "northingatfalseorigin", "northingatprojectioncentre":
		return "fn"
	}
	return ""
}

// field returns the place of a column.
func (p *params) field(col string) *float64 {
	switch col {
	case "lat0":
		return &p.lat0
	case "lon0":
		return &p.lon0
	case "lat1":
		return &p.lat1
	case "lat2":
		return &p.lat2
	case "k":
		return &p.k
	case "fe":
		return &p.fe
	}
	return &p.fn
}

// check proves that the parameters that a text gives are those of the method,
// and brings them into the common form.
func (m wktMethod) check(p *params, given map[string]bool) error {
	for _, col := range strings.Fields(m.needs + " fe fn") {
		if !given[col] {
			return fmt.Errorf("it lacks %s", columnName(col))
		}
	}
	allowed := " " + m.needs + " " + m.may + " fe fn "
	for _, col := range strings.Fields("lat0 lon0 lat1 lat2 k fe fn") {
		if !given[col] || strings.Contains(allowed, " "+col+" ") {
			continue
		}
		v := p.field(col)
		if neutral := map[bool]float64{true: 1}[col == "k"]; *v != neutral {
			return fmt.Errorf("it has no use for %s %g", columnName(col), *v)
		}
	}
	if m.finish != nil {
		return m.finish(p, given)
	}
	return nil
}

func columnName(col string) string {
	return map[string]string{
		"lat0": "a latitude of origin", "lon0": "a central meridian", "lat1": "a first standard parallel",
		"lat2": "a second standard parallel", "k": "a scale factor", "fe": "a false easting", "fn": "a false northing",
	}[col]
}

func oneParallelAtOrigin(p *params, _ map[string]bool) error {
	p.lat1, p.lat2 = p.lat0, p.lat0
	return nil
}

func oneParallel(p *params, _ map[string]bool) error {
	p.lat2 = p.lat1
	return nil
}

func oneParallelOrTwo(p *params, given map[string]bool) error {
	if given["lat2"] {
		return nil
	}
	// PROJ then takes the cone through the latitude of origin, others through
	// the parallel.
	if math.Abs(p.lat1-p.lat0) > 1e-9 {
		return fmt.Errorf("one standard parallel, %g, that is not the latitude of origin, %g, can be read in two ways", p.lat1, p.lat0)
	}
	return oneParallelAtOrigin(p, given)
}

func atEquator(p *params, _ map[string]bool) error {
	if p.lat0 != 0 {
		return fmt.Errorf("a latitude of origin off the equator, %g, is not supported", p.lat0)
	}
	if p.lat1 != 0 && p.k != 1 {
		return fmt.Errorf("scale factor %g and standard parallel %g cannot both hold", p.k, p.lat1)
	}
	return nil
}

func webForm(p *params, _ map[string]bool) error {
	if p.lat0 != 0 || p.lat1 != 0 || p.k != 1 {
		return fmt.Errorf("only the form with its origin and standard parallel on the equator and scale factor 1 is supported")
	}
	return nil
}

func polarByOrigin(p *params, _ map[string]bool) error {
	if math.Abs(p.lat0) != 90 && p.k != 1 {
		return fmt.Errorf("scale factor %g goes with a latitude of origin at a pole, not at %g", p.k, p.lat0)
	}
	p.lat1 = p.lat0
	p.lat0 = math.Copysign(90, p.lat1)
	return nil
}

func polarByParallel(p *params, _ map[string]bool) error {
	if math.Abs(p.lat1) != 90 && p.k != 1 {
		return fmt.Errorf("scale factor %g and standard parallel %g cannot both hold", p.k, p.lat1)
	}
	p.lat0 = math.Copysign(90, p.lat1)
	return nil
}
