// Package job folds the record of one repair into what people want to know of
// it: the sheet, the instruments, which channel was where, the stages and the
// soaks, what was done in plain sentences, the newest value of every rail.
//
// It also knows what opens a job, and which acts make sense when, so that
// screens, command line and demo refuse the same things in the same words.
//
// [Book] is a [capture.Sink] that needs nothing but records: fed live or from
// the file, it says the same. It keeps no readings but the newest ones and those
// entered by hand. The application posts acts after [Book.Check]; screens and
// the dossier read. The package starts no goroutine and asks no clock.
package job
