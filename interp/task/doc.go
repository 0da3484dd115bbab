// Package task writes and reads task data of ISO 11783-10, version 4: what a
// spreader's terminal is told to put where, as treatment zones with outlines or
// as a grid of cells.
//
// Rates are mg/m² (1 kg/ha = 100 mg/m²), the unit in which the machine is told
// them: data dictionary identifier 6, setpoint mass per area, whole mg/m².
// Positions are WGS 84 degrees.
//
// Source: ISO 11783-10:2015. Names, order, types and bounds of elements and
// attributes are those of the published schema, version 4.3 (revision of
// 2018-06-04). What the schema does not say is from memory, and marked so:
//   - a cell of a grid of type 2 is a little-endian int32, one of type 1 a byte;
//     cells go from west to east in rows from south to north;
//   - the treatment zone that a grid of type 2 names says which figures the cells
//     hold, and of which product; its own value has no meaning;
//   - a value is shown as (value + offset) * scale;
//   - an outline ends where it began; a treatment zone has one polygon;
//   - identifier 6 is in mg/m² with a step of 1, a density in mg/l;
//   - the file stands in a folder TASKDATA at the top of the medium or archive.
package task
