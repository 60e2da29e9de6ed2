package comparison

import (
	"bufio"
	"context"
	"net/http"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/store"
	"steadyrail/rules"
)

// perRule reports what one evaluation of one rule costs: the pipeline's as
// Prometheus counts it itself (of the plainest expression on one series), ours
// as the difference between judging the run's records with and without their
// rules, for each rule that heard each reading. The one is wall time of a
// process that has the processor for itself, the other processor time of one
// goroutine: comparable as orders of magnitude.
func perRule(b *testing.B, r *rig, p pipeline) {
	b.Helper()
	theirs := p.evaluation(b)
	ours := ownEvaluation(b, everything(r))
	b.ReportMetric(1e6*theirs.Seconds(), "µs-a-rule-pipeline")
	b.ReportMetric(1e6*ours.Seconds(), "µs-a-rule-own")
}

// evaluation is the mean time that Prometheus needed to evaluate a rule.
func (p pipeline) evaluation(tb testing.TB) time.Duration {
	tb.Helper()
	answer, err := asking.Get("http://" + p.prometheus + "/metrics")
	if err != nil || answer.StatusCode != http.StatusOK {
		tb.Fatalf("Prometheus says nothing of itself: %v", err)
	}
	defer answer.Body.Close()
	var sum, count float64
	for sc := bufio.NewScanner(answer.Body); sc.Scan(); {
		name, value, _ := strings.Cut(sc.Text(), " ")
		v, _ := strconv.ParseFloat(value, 64) // comments are no figures
		switch {
		case strings.HasPrefix(name, "prometheus_rule_evaluation_duration_seconds_sum"):
			sum += v
		case strings.HasPrefix(name, "prometheus_rule_evaluation_duration_seconds_count"):
			count += v
		}
	}
	if count == 0 {
		tb.Fatal("Prometheus has evaluated no rule")
	}
	return time.Duration(sum / count * 1e9)
}

// everything is the whole log of the rig's job.
func everything(r *rig) (out []capture.Record) {
	r.tb.Helper()
	r.stop()
	job, err := store.OpenFile(filepath.Join(r.workspace, "jobs", jobID+store.Extension))
	r.must(err)
	r.must(job.Records(context.Background(), 0, 0, func(rec capture.Record) error {
		out = append(out, rec)
		return nil
	}))
	r.must(job.Close(context.Background()))
	return out
}

// ownEvaluation is the mean time of one rule for one reading.
func ownEvaluation(b *testing.B, log []capture.Record) time.Duration {
	b.Helper()
	var bare []capture.Record
	readings, judged := 0, 0
	for _, rec := range log {
		if set, isSet := rec.Item.(capture.RuleSet); isSet {
			judged = len(set.Rules)
			continue
		}
		if _, isReading := rec.Item.(capture.Reading); isReading {
			readings++
		}
		bare = append(bare, rec)
	}
	if judged == 0 || readings == 0 {
		b.Fatal("the run kept no rules or no readings")
	}
	const times = 20
	cost := func(list []capture.Record) time.Duration {
		begun := time.Now()
		for range times {
			if _, err := rules.Replay(context.Background(), func(yield func(capture.Record) error) error {
				for _, rec := range list {
					if err := yield(rec); err != nil {
						return err
					}
				}
				return nil
			}, 0); err != nil {
				b.Fatal(err)
			}
		}
		return time.Since(begun)
	}
	return (cost(log) - cost(bare)) / time.Duration(times*readings*judged)
}
