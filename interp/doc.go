// Package interp turns the results of composites into surfaces: one raster per
// analyte over one field, by inverse distance weighting, together with the
// cross-validation that says whether the surface knows more than the mean.
//
// Positions are metres in the frame of one field. Divisions (management units
// and problem areas) are hard edges: nothing is interpolated across one.
package interp
