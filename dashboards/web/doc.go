// Package web draws the screens: Bench, Rail, Alarms and Job. It turns a
// snapshot of the bench into words, marks and tables on the server, so that a
// page reads right without a script; the scripts it carries only put newer
// words in the same places.
//
// A page is a frame with parts. [Pages.Render] writes the whole page,
// [Pages.Parts] only the parts, for the stream of changes; both come from the
// same templates, so they cannot disagree.
//
// It knows no request and no clock: ages come from the snapshot. Only the
// doorway, package dashboards, calls it. Safe for concurrent use.
package web
