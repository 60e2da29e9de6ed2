package cli

import (
	"fmt"
	"path/filepath"
	"runtime"

	"steadyrail/drivers/scpi"
)

// showPlan says what asking a port does; what opening a serial port may do to
// some boards is said once.
func (u *setup) showPlan(t target) {
	t.brief = u.warned
	t.plan(u.err)
	u.warned = u.warned || serial(t.address)
}

// foundAt is a link with the rate at which its instrument answered; the model's own
// may be another.
func foundAt(link string, f finding) string {
	if f.Answer == "" || f.Baud == 0 || !needsBaud(link) {
		return link
	}
	return withOption(link, fmt.Sprintf("baud=%d", f.Baud))
}

// pin keeps the serial number of an answer to *IDN?, so that another instrument
// in its place is refused. Silence is told with what came instead.
func (u *setup) pin(in *entry, answer, instead string) {
	switch id, err := scpi.ParseIdentity(answer); {
	case answer == "":
		u.say("  It did not say who it is: %s", instead)
	case err != nil:
		u.say("  It answers %q, which names no serial number.", answer)
	case id.Serial == "" || id.Serial == "0":
		u.say("  It is %s, without a serial number: its place will do.", id)
	default:
		u.say("  It is %s, which is pinned: another one in its place will be refused.", id)
		in.serial = id.Serial
	}
}

// showNext says how to go on, so that nothing else need be read first.
func (u *setup) showNext() {
	u.say("\nThe accuracy of the built-in models is invented: until your makers' figures stand in a\ncopy of the model (the key models), every doubt on a figure is as good as that.")
	export := "export STEADYRAIL_WORKSPACE="
	if runtime.GOOS == "windows" {
		export = "set STEADYRAIL_WORKSPACE="
	}
	// Not by say: what is to be pasted must not be broken.
	fmt.Fprintf(u.err, "\nNext:\n  steadyrail run --config %s\nand in another terminal:\n  %s%s\n", pasted(u.out), export, pasted(u.folder()))
	fmt.Fprintln(u.err, `  steadyrail job open AB-0147 --rails "+5 2% logic, +12 5% audio"`)
}

// folder is where the record goes, as any folder can name it.
func (u *setup) folder() string {
	dir := u.plan.workspace
	if !filepath.IsAbs(dir) {
		dir = filepath.Join(filepath.Dir(u.out), dir)
	}
	if abs, err := filepath.Abs(dir); err == nil {
		return abs
	}
	return dir // there is no present folder: nothing better is known
}
