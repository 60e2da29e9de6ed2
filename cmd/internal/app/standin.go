package app

import (
	"errors"
	"strings"

	"steadyrail/configs"
	"steadyrail/dashboards/web"
	"steadyrail/rules/standin"
)

// judgeStandIns judges every candidate of a text. The error lists everything that
// is wrong with the text, a line each.
func judgeStandIns(text []byte) ([]web.StandIn, error) {
	file, problems := configs.ParseStandIn("text", text)
	if len(problems) > 0 {
		var lines strings.Builder
		configs.Explain(&lines, problems)
		return nil, errors.New(strings.TrimSpace(lines.String()))
	}
	out := []web.StandIn{}
	for _, c := range file.Candidates {
		out = append(out, standInShape(standin.Judge(file.Need, c, standin.Scope{})))
	}
	return out, nil
}

func standInShape(j standin.Judgement) web.StandIn {
	out := web.StandIn{Candidate: j.Candidate, Rail: j.Rail, Word: string(j.Word), Say: j.Say, Checks: []web.StandInCheck{}}
	for _, c := range j.Checks {
		out.Checks = append(out.Checks, web.StandInCheck{Name: c.Name, Word: string(c.Word), Value: c.Value, Limit: c.Limit, Unit: c.Unit, Say: c.Say, Basis: c.Basis, Source: c.Source})
	}
	return out
}
