// Package raster holds grids of figures over ground in metres, writes them as
// Cloud Optimized GeoTIFF and reads them back, writes them as ESRI ASCII grid,
// and colours them.
//
// A grid has square pixels and lies north up. A pixel stands for an area, not
// a point: the corner of the grid is the outer corner of its first pixel.
// Pixels without a value hold [NoData]. Nothing here is changed by the
// functions that only read it, and all of them may be used by several
// goroutines at once on the same grid.
package raster
