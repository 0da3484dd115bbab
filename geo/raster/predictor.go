package raster

import "math"

// The floating point predictor of TIFF (predictor 3: Adobe Photoshop TIFF
// Technical Note 3, 2005). It works on one row: the bytes of all values are
// sorted into four planes, the most significant first, and each byte is
// replaced by its difference to the one before it of the same band. Smooth
// surfaces then compress to about half of what they would without.

// predict writes the predicted form of a row of one band to dst, which holds
// four bytes for each value and for as many repetitions of the last value as
// fill it up.
func predict(dst []byte, row []float32) {
	n := len(dst) / 4
	p0, p1, p2, p3 := dst[:len(row)], dst[n:][:len(row)], dst[2*n:][:len(row)], dst[3*n:][:len(row)]
	last := uint32(0)
	for i, f := range row {
		v := math.Float32bits(f)
		p0[i] = byte(v>>24) - byte(last>>24)
		p1[i] = byte(v>>16) - byte(last>>16)
		p2[i] = byte(v>>8) - byte(last>>8)
		p3[i] = byte(v) - byte(last)
		last = v
	}
	// The first byte of a plane follows the last one of the plane before.
	p1[0] -= byte(last >> 24)
	p2[0] -= byte(last >> 16)
	p3[0] -= byte(last >> 8)
	for plane := range 4 {
		clear(dst[plane*n+len(row) : (plane+1)*n])
	}
}

// unpredict is the inverse for rows of any number of bands, whose values
// alternate. It overwrites src.
func unpredict(row []uint32, src []byte, bands int) {
	for i := bands; i < len(src); i++ {
		src[i] += src[i-bands]
	}
	n := len(row)
	for i := range row {
		row[i] = uint32(src[i])<<24 | uint32(src[n+i])<<16 | uint32(src[2*n+i])<<8 | uint32(src[3*n+i])
	}
}
