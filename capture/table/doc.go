// Package table writes tables as CSV and reads those that other programs and
// instruments wrote: loggers, oscilloscopes, spreadsheets.
//
// Writing follows RFC 4180 in two dialects, chosen by the decimal sign: a point
// with commas between cells, or a comma with semicolons. Times are ISO 8601 with
// microseconds and the offset from UTC in both.
//
// Reading goes in two steps. [Understand] looks at the beginning of a file (at
// most a megabyte) and says in a [Layout] what it took for what: encoding,
// separator, decimal sign, lines before the header, header, units, the columns
// of the time. What could as well be something else is refused with the option
// that decides it, never guessed. [Layout.Read] then streams every row. A row
// that cannot be read is reported with its line and the reason, all of them at
// once in one [*BadRows]; after the first no row is handed out any more.
//
// A value of a row gets an instant of its own, for instants strictly increase
// over a job: values of one row, and rows of equal time, follow each other by a
// microsecond. The row's own time stays in [Row.Measured]. That is refused when
// it would move a value by more than the last digit of the file's own times: a
// record has microseconds, and a faster capture does not fit.
//
// Limits: [MaxRecord] bytes in a row, [MaxColumns] cells, [MaxSorted] rows when
// they are to be sorted; other files may be of any length, and memory does not
// grow with it. Not read: numbers with marks between thousands, units behind
// each number, several tables in one file or side by side, years outside 1970 to
// 2200.
//
// The package imports only capture, starts no goroutine, opens no file and asks
// no clock. Its functions are safe for concurrent use; a [Writer] is not.
package table

const (
	// MaxRecord is the longest row that is read, in bytes of UTF-8.
	MaxRecord = 64 << 10
	// MaxColumns is the greatest number of cells in a row.
	MaxColumns = 256
	// MaxSorted is how many rows can be sorted: they are held in memory.
	MaxSorted = 1_000_000
	// mostProblems is how many bad rows are told one by one.
	mostProblems = 50
	// sampleSize is how much of a file is looked at to understand it, in bytes.
	sampleSize = 1 << 20
	// sampleRows is how many rows of it are.
	sampleRows = 2000
	// mostPreamble is how many lines may stand before the header.
	mostPreamble = 200
)
