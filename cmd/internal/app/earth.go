package app

import (
	"context"
	"fmt"
	"strings"

	"steadyrail/capture"
	"steadyrail/dashboards"
	"steadyrail/dashboards/chart"
	"steadyrail/rules/earth"
)

// board gathers what the earth check judges: the job's rails, every instrument,
// where each channel is now, what stands on the boards of the other open jobs,
// and what a person vouched for.
func (a *App) board(j *openJob) earth.Board {
	b := a.boardAlone(j)
	for _, other := range a.others(j) {
		b.Others = append(b.Others, a.boardAlone(other).Beyond("job "+other.id)...)
	}
	b.Vouches = vouches(j)
	return b
}

func (a *App) boardAlone(j *openJob) earth.Board {
	b := earth.Board{Rails: j.book.Sheet().Rails}
	for _, name := range a.order {
		b.Instruments = append(b.Instruments, a.info(name))
	}
	places := j.book.Placements()
	for _, ch := range places.Channels() {
		if p, _, ok := places.Now(ch); ok && (p.Rail != "" || p.Point != "") {
			b.Placed = append(b.Placed, p)
		}
	}
	return b
}

// inFull writes the names of rails in a placement out, where they were typed as
// people type them.
func inFull(j *openJob, p capture.Placement) capture.Placement {
	for _, name := range []*string{&p.Rail, &p.Return} {
		if rail, err := j.book.Sheet().FindRail(*name); err == nil && *name != "" {
			*name = rail.Name
		}
	}
	return p
}

// mayStand refuses a lead that would short two nets, or that stands where its
// instrument is not rated for. A correction is held to the same, when it says
// where the channel is now; of the past nothing can be refused.
func (a *App) mayStand(j *openJob, p capture.Placement) ([]string, error) {
	if _, at, _ := j.book.Placements().Now(p.Channel); p.Corrects != 0 && p.Corrects != at {
		return nil, nil
	}
	no, cautions := a.board(j).Check(p)
	if no == nil {
		return cautions, nil
	}
	return nil, mustNot(fmt.Sprintf("place %s on %s", p.Channel, where(p)), no)
}

// firstTime says the cautions of a rail beside the first placement on it.
func firstTime(j *openJob, p capture.Placement, cautions []string) string {
	if len(cautions) == 0 || p.Corrects != 0 || len(j.book.Placements().Spans(p.Rail)) > 0 {
		return ""
	}
	return " " + strings.Join(cautions, " ")
}

// maySource refuses to switch on what feeds a loop that stands already: one from
// before the instruments were known for what they are.
func (a *App) maySource(j *openJob, act capture.Act) error {
	if act.Text != "on" || act.Verb == capture.ActLimits {
		return nil
	}
	l, stands := a.board(j).StandingOf(act.Instrument())
	if !stands {
		return nil
	}
	return &dashboards.Error{
		Kind:   dashboards.Refused,
		Detail: fmt.Sprintf("%s of %s on: %s", act.Verb, act.Subject, strings.TrimSuffix(l.String(), ".")),
		Hint:   l.Advice() + ".\n" + earth.Caution,
	}
}

// MayPlace tells whether a placement might be made, and makes none.
func (a *App) MayPlace(_ context.Context, id string, p capture.Placement) (dashboards.MayPlace, error) {
	j, err := a.job(id)
	if err != nil {
		return dashboards.MayPlace{}, err
	}
	p = inFull(j, p)
	what := fmt.Sprintf("place %s", p.Channel)
	if !a.known(p.Channel) {
		return dashboards.MayPlace{}, &dashboards.Error{Kind: dashboards.NotFound, Detail: what + ": there is no such channel", Hint: "channels: " + a.channelNames()}
	}
	if p.Rail != "" {
		if _, err := j.book.Sheet().FindRail(p.Rail); err != nil {
			return dashboards.MayPlace{}, &dashboards.Error{Kind: dashboards.NotFound, Detail: what, Err: err}
		}
	}
	out := dashboards.MayPlace{Job: j.id, Loop: []string{}, Cautions: []string{}}
	no, cautions := a.board(j).Check(p)
	if no == nil {
		out.OK, out.Say = true, fmt.Sprintf("%s may go on %s%s, as far as was told.", p.Channel, where(p), against(p))
		out.Cautions = append(out.Cautions, cautions...)
		return out, nil
	}
	out.Say = strings.TrimSuffix(no.Detail, ".") + "."
	out.Loop = append(out.Loop, no.Loop...)
	out.Advice = no.Advice + "."
	out.Cautions = strings.Split(earth.Caution, "\n")
	return out, nil
}

// Lows lists the low leads that stand on a job's board, a wire that several
// channels have in common once.
func (a *App) Lows(id string) []chart.Low {
	j, err := a.job(id)
	if err != nil {
		return nil
	}
	b := a.board(j)
	var out []chart.Low
	seen := map[string]bool{}
	for _, l := range b.Lows() {
		wire := l.String() + " on " + l.Net.String()
		if seen[wire] {
			continue
		}
		seen[wire] = true
		_, shorted := b.Loop(placementOf(b, l.Channel))
		out = append(out, chart.Low{Channel: string(l.Channel), Word: l.Word, Net: l.Net.String(), Earth: l.Net.Earth, Tie: l.Tie.String(), Shorted: shorted})
	}
	return out
}

func placementOf(b earth.Board, ch capture.ChannelID) capture.Placement {
	for _, p := range b.Placed {
		if p.Channel == ch {
			return p
		}
	}
	return capture.Placement{}
}

// against says where the other lead stands, when that was said.
func against(p capture.Placement) string {
	if p.Return == "" {
		return ""
	}
	return ", its low on " + p.Return
}
