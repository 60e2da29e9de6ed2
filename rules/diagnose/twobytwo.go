package diagnose

// TwoByTwo is the first question of an isolation, without any probability:
// source alone into a dummy load, load alone from the bench supply.
type TwoByTwo struct {
	Rail   string  `json:"rail"`
	Source Outcome `json:"source,omitempty"` // empty: not tried
	Load   string  `json:"load,omitempty"`   // that failed, or was tried last
	Loaded Outcome `json:"load_alone,omitempty"`
	Say    string  `json:"say"`
}

// twoByTwo collects the two tests of every rail on which one was made.
func (b Board) twoByTwo(log []Entry) []TwoByTwo {
	var out []TwoByTwo
	for _, r := range b.Rails {
		t := TwoByTwo{Rail: r.Name}
		for _, e := range log {
			if e.At.Where == SourceAlone && e.At.Subject == r.Name {
				t.Source = e.Word
			}
			l, is := b.load(e.At.Subject)
			if e.At.Where == LoadAlone && is && l.Rail == r.Name && t.Loaded != NotOK {
				t.Load, t.Loaded = l.Name, e.Word
			}
		}
		if t.Source != "" || t.Loaded != "" {
			t.Say = t.sentence()
			out = append(out, t)
		}
	}
	return out
}

func (t TwoByTwo) sentence() string {
	switch {
	case t.Source == OK && t.Loaded == OK:
		return t.Rail + ": source and " + t.Load + " are both right alone. Look at what is between them: connector, wires, start-up, current limit."
	case t.Source == OK && t.Loaded == NotOK:
		return t.Rail + ": the source is right alone, " + t.Load + " is not. Repair the load."
	case t.Source == NotOK && t.Loaded == OK:
		return t.Rail + ": the source is not right alone, " + t.Load + " is. Repair the source, or what feeds and enables it."
	case t.Source == NotOK && t.Loaded == NotOK:
		return t.Rail + ": neither source nor " + t.Load + " is right alone: two faults, or one took the other with it."
	case t.Source != "":
		return t.Rail + ": source alone is " + string(t.Source) + "; no load was tried alone."
	}
	return t.Rail + ": " + t.Load + " alone is " + string(t.Loaded) + "; the source was not tried alone."
}
