// Package drivers is the doorway to the instruments: it knows the model files,
// the dialects that instruments speak, and the links they hang on.
//
// # What it promises
//
// [Open] and [Links.Open] make an [Instrument] from a bench's configuration and
// a model; nothing is opened or sent before Connect. Instruments that name the
// same place share one connection.
//
// A model is a YAML file, see models/README.md. The ones that ship are built
// in; a folder of the user's own can add to them. A mistake in a file is an
// error with file and line, and all mistakes are reported at once: an unknown
// or doubled key is one, because a misspelt setting must not fall back to its
// default in silence.
//
// Errors of an instrument wrap one of the sentinels here. [Flags] says what a
// reading gets that failed with one.
//
// # Who may call it
//
// The application opens instruments and hands them to the poller, whose one
// goroutine per link calls them; configs checks configurations against the
// models. To add an instrument, add a model file and a recording in
// testdata/wire; to add a dialect, add a room and a line to the table in
// dialect.go.
package drivers
