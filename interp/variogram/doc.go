// Package variogram says how unlike two places are, by the distance and the
// direction between them: the experimental variogram of samples, models of it,
// and the fit of a model.
//
// Positions and distances are metres; azimuths are degrees clockwise from
// north (the second axis). Nothing depends on the order of the samples, and
// nothing here uses a function whose last bits hang on the processor.
//
// Sources: G. Matheron (1963), Principles of geostatistics, Economic Geology
// 58:1246-1266, doi:10.2113/gsecongeo.58.8.1246; E. H. Isaaks, R. M.
// Srivastava (1989), An introduction to applied geostatistics, Oxford, ch. 7
// and 16; N. Cressie (1993), Statistics for spatial data, Wiley, section 2.4
// and 2.6. Settings and parameters are those of R's gstat (E. J. Pebesma 2004,
// doi:10.1016/j.cageo.2004.03.012), so that figures can be compared.
package variogram
