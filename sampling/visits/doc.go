// Package visits finds out where the cores of a plan were really taken, from the
// waypoints and tracks that a handheld brings back.
//
// The rules, in order:
//
//  1. A waypoint with the name of a core is that core, wherever it lies. Case and
//     the space at the ends of names do not count, since many handhelds write
//     names in capitals. Nothing else is guessed: a name that was cut short or
//     had a number appended is that of no core, and a name that several cores
//     share says nothing. Of several waypoints with the name of one core the
//     nearest is taken; the others are spare.
//  2. Handhelds hand the waypoints that were loaded into them back in the same
//     file. So a waypoint within SamePlace of the planned place of the core whose
//     name it has, or of any core if its name is that of none (which a handheld
//     may have cut), is taken for a returned one. It is no evidence of a visit,
//     and no match for another core. Its time is not looked at: some handhelds
//     set it when the waypoint is loaded. That a receiver good to some metres
//     marks a place to within SamePlace by chance is rare, and then the planned
//     place is the right one anyhow.
//  3. The other waypoints are matched one to one with the cores that rule 1 left,
//     within reach: the nearest pair first, then the nearest pair of what is left,
//     and so on.
//  4. A core still without a visit is visited at the nearest place of a track,
//     if that is within reach. A track runs straight from point to point, and not
//     across the gap between two segments.
//  5. A core still without a visit is unmoved if a waypoint was returned for it,
//     and missed if not.
//
// Nothing depends on the order of the waypoints: equal distances are settled by
// the order of the cores, then by the position (easting, then northing) and the
// name of the waypoints.
package visits
