package metrics

import "github.com/prometheus/client_golang/prometheus"

var (
	onRail    = []string{"bench", "job", "rail", "instrument", "channel"}
	onPoint   = []string{"bench", "job", "rail", "instrument", "channel", "point"}
	onVerdict = []string{"bench", "job", "rule", "rail", "verdict"}
	onAlarm   = []string{"bench", "job", "rule", "rail", "severity"}
)

func desc(name, help string, labels ...string) *prometheus.Desc {
	return prometheus.NewDesc("steadyrail_"+name, help, labels, nil)
}

// What the bench collector can say. Everything here is listed by Describe, and
// a test checks that alert rules and dashboards use nothing else.
var (
	railVolts       = desc("rail_volts", "Newest present reading of a rail.", onRail...)
	railAmperes     = desc("rail_amperes", "Newest present current filed under a rail or a point.", onPoint...)
	railOhms        = desc("rail_ohms", "Newest present resistance of a rail to its return.", onRail...)
	pointCelsius    = desc("point_celsius", "Newest present temperature.", onPoint...)
	pointVolts      = desc("point_volts", "Newest present voltage of something that is no rail, such as a supply's own read-back.", onPoint...)
	railTarget      = desc("rail_target_volts", "What the rail is trimmed to.", "bench", "job", "rail")
	railLow         = desc("rail_low_volts", "Declared low bound.", "bench", "job", "rail")
	railHigh        = desc("rail_high_volts", "Declared high bound.", "bench", "job", "rail")
	railUncertainty = desc("rail_volts_uncertainty", "Expanded uncertainty (k = 2, more where few readings scatter) of the rail's reading in volt; absent when none is stated.", onRail...)
	observed        = desc("observed_ratio", "Sum of apertures over span, of the last ten minutes; absent when the aperture is not known.", onRail...)
	ruleVerdict     = desc("rule_verdict", "1 for the verdict that stands, 0 for the others.", onVerdict...)
	alarmActive     = desc("alarm_active", "1 while the condition of an open alarm is present, 0 while it only waits to be heard or reset.", onAlarm...)
	alarmsTotal     = desc("alarms_total", "Alarms raised since the daemon started or the job was opened.", onAlarm...)
	stageInfo       = desc("job_stage_info", "1, with the job's stage in the label.", "bench", "job", "stage")
	readings        = desc("readings_total", "Polls by how they ended.", "instrument", "channel", "outcome")
	lastReading     = desc("last_reading_timestamp_seconds", "When the last good reading was answered, bench time.", "instrument", "channel")
	exchange        = desc("exchange_duration_seconds", "How long the last exchange took, wall time.", "instrument", "channel")
	instrumentUp    = desc("instrument_up", "1 when the instrument answers as the one that was expected.", "instrument")
	resyncs         = desc("resyncs_total", "How often the exchange had to be synchronised again.", "instrument")
	storeBytes      = desc("store_bytes", "Size of a job's file.", "job")
	storeQueue      = desc("store_queue_readings", "Readings that wait for their commit.", "job")
	storeDropped    = desc("store_dropped_readings_total", "Readings lost because the disk could not follow.", "job")
	storeErrors     = desc("store_write_errors_total", "Commits that did not succeed.", "job")
	spaceFree       = desc("workspace_free_bytes", "What the disk of the workspace still takes.")
	spaceRate       = desc("workspace_growth_bytes_per_second", "How fast the files of the open jobs grow, mean of up to six hours; absent in the first quarter of an hour.")
	notifyQueue     = desc("notifier_queue_notices", "Notices that wait to be sent.", "notifier")
	notices         = desc("notices_total", "Notices by how they ended.", "notifier", "outcome")
	notifierUp      = desc("notifier_up", "1 when the newest attempt to tell arrived; absent before the first.", "notifier")
	notifierFailing = desc("notifier_failing_seconds", "How long the attempts to tell have failed, wall time; 0 while they arrive, absent before the first.", "notifier")
	clockSynced     = desc("clock_synchronised", "1 when the computer's clock is kept by a time server; absent where that cannot be known.")
	benchSpeed      = desc("bench_speed_ratio", "Bench seconds per wall second; 1 on a real bench.", "bench")
)

var all = []*prometheus.Desc{
	railVolts, railAmperes, railOhms, pointCelsius, pointVolts, railTarget, railLow, railHigh, railUncertainty, observed, ruleVerdict, alarmActive, alarmsTotal, stageInfo,
	readings, lastReading, exchange, instrumentUp, resyncs, storeBytes, storeQueue, storeDropped, storeErrors, spaceFree, spaceRate, notifyQueue, notices, notifierUp, notifierFailing, clockSynced, benchSpeed,
}
