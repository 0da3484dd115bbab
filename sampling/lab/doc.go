// Package lab reads a soil laboratory's results file and joins it to the
// samples of a plan so that every row of the file and every sample of the plan
// is accounted for.
//
// Read turns the bytes of a file into a Table: delimited text (ReadTable reads
// that alone), an .xlsx workbook, or a Modus 1 result. Join and ReadPoints turn a
// Table into results and a Reckoning. The Reckoning gives each data row one
// fate and each sample one, lists each cell that could not be used as it
// stands, and proves its own sums (Reckoning.Check).
//
// Values end in one unit for each analyte (CanonicalUnit, Convert), beside what
// the lab wrote. What can't be converted without a guess, by volume or per area
// of an unknown depth, stays in the lab's unit and says why. Reckoning.Examine
// then lists what looks wrong, and Mixed what must not be mapped together.
//
// A table is wide, with a column for each analyte, or long, with a row for each
// value; a long one is made wide, and each row made keeps the numbers of its
// Sources. What a reader knows of the file beyond its cells, such as ids that a
// spreadsheet has turned into dates, is in Table.Notices.
//
// Row numbers are those a person sees in a spreadsheet: the first row is 1 and
// letterhead, header and units row count. A cell in quotes may hold line
// breaks and is still one row. A leading "sep=;" line is an instruction to the
// spreadsheet, which does not show it, so it isn't counted.
//
// Sample ids are text. Two ids are the same when they are equal after trimming,
// or, failing that, when their keys are equal. The key is the id in upper case
// without spaces, hyphens and underscores, except that between two digits any
// run of these counts as one hyphen: "ab-07 k" is AB07K, but A-1-11 and A-11-1
// stay apart. Leading zeros are kept. An id whose key fits several samples is
// refused, never guessed.
package lab
