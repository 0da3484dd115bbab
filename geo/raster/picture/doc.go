// Package picture draws one surface, or the zones, of one field as a map for
// the printed page, and a scatter of predicted on observed figures. Each is laid
// out once, in units of a page about 800 wide, and then written as SVG or as PNG,
// so that both look alike: in the SVG letters are set in whatever sans serif the
// reader has, held to the widths of the Go fonts that the PNG is drawn with.
//
// The same description gives the same bytes. Nothing here keeps state: maps may
// be drawn from many goroutines at once.
package picture
