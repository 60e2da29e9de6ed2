package scpi

// Tour lists what connecting and one reading of each channel send when all goes
// well, in order, for people to see before it is sent.
func (p Plan) Tour() []string {
	var out []string
	add := func(list ...string) {
		for _, s := range list {
			if s != "" {
				out = append(out, s)
			}
		}
	}
	confirm := askError
	if p.has(NoErrorQueue) {
		confirm = ""
	}
	switch {
	case p.Identity.None:
	case p.Identity.Ask != "":
		add(p.Identity.Ask)
	default:
		add(askIdentity)
	}
	if !p.has(NoClear) {
		add(clearStatus)
	}
	add(p.SetUp...)
	add(confirm)
	for _, c := range p.Channels {
		if len(c.Select) > 0 {
			add(c.Select...)
			add(confirm)
		}
		o := p.OutputNamed(c.Output)
		if o != nil {
			add(o.Choose, o.Chosen.Ask)
		}
		add(c.Read)
		if c.Limiting && o != nil && o.Limiting != nil {
			add(o.Limiting.Ask)
		}
	}
	return out
}
