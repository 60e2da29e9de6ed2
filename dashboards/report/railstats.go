package report

import "steadyrail/capture"

func unitOf(symbol string) capture.Unit {
	for u := capture.One; u <= capture.Second; u++ {
		if u.Symbol() == symbol || u.ASCII() == symbol {
			return u
		}
	}
	return capture.One
}

type statRow struct {
	What, Channel, Effective, Mean, SD string
	N, Min, Max                        cell
	Heat                               string // of a temperature: whether collapses came with it
}

func (t teller) stats() []statRow {
	var out []statRow
	for _, r := range t.d.Rails {
		for _, w := range r.Watches {
			out = append(out, t.stat(named(r.Rail.Name), capture.Volt, w))
		}
	}
	for _, w := range t.d.Points {
		row := t.stat(t.pointName(w), t.unit(w.Channel), w)
		if w.Heat != "" {
			row.Heat = sentence(w.Heat)
		}
		out = append(out, row)
	}
	return out
}

func (t teller) stat(what string, u capture.Unit, w capture.Watch) statRow {
	row := statRow{What: what, Channel: string(w.Channel), N: cell{Text: whole(w.N)}}
	if w.Bad > 0 {
		row.N.Note = "and " + whole(w.Bad) + " failed"
	}
	if w.N == 0 {
		row.Mean = "No reading"
		return row
	}
	row.Mean = fig(u, w.Mean, w.Resolution)
	row.SD = scatter(u, w.SD, w.Resolution)
	row.Min = cell{Text: fig(u, w.Min, w.Resolution), Note: t.short(w.MinAt)}
	row.Max = cell{Text: fig(u, w.Max, w.Resolution), Note: t.short(w.MaxAt)}
	if w.Effective > 0 {
		row.Effective = whole(int64(w.Effective))
	}
	return row
}

func (t teller) unit(ch capture.ChannelID) capture.Unit {
	if c, ok := t.d.Roster.Channel(ch); ok {
		return c.Quantity.Unit()
	}
	return capture.One
}

func (t teller) pointName(w capture.Watch) string {
	if w.Point != "" {
		return w.Point
	}
	return string(w.Channel)
}
