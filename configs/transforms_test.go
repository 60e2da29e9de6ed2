package configs

import (
	"testing"

	"steadyrail/capture"
)

func TestTransforms(t *testing.T) {
	c, problems := Parse("b.yaml", []byte(`instruments:
  - name: dmm
    model: scpi-multimeter
    link: "tcp:127.0.0.1:5025"
    transforms:
      - {name: case, of: volts, kind: thermocouple-k, cold_junction: 0}
      - {name: tab, of: volts, kind: thermocouple-t, cold_junction: thermo/celsius, cold_junction_within: 0.5, cold_junction_age: 30 s, tolerance: "1"}
      - {name: sink, of: ohms, kind: pt100, leads: 0.4}
      - {name: air, of: ohms, kind: ntc, r25: 10000, beta: 3950}
  - {name: thermo, model: scpi-thermometer, link: "tcp:127.0.0.1:5026"}
`), Options{})
	if c == nil {
		t.Fatal(problems)
	}
	got := c.Instruments[0].Transforms
	if len(got) != 4 || got[0].Cold == nil || *got[0].Cold != 0 || got[1].ColdChannel != "thermo/celsius" || got[1].Tolerance != "1" || got[2].Leads != 0.4 || got[3].Beta != 3950 {
		t.Errorf("%+v", got)
	}
}

func TestHandhelds(t *testing.T) {
	c, problems := Parse("b.yaml", []byte(least+`handhelds:
  - name: pocket
    calibration_due: 2027-03-01
    accuracy:
      - {quantity: dc_voltage, range: 6, resolution: 0.001, of_reading: 0.005, digits: 2, source: "manual, page 12"}
      - {quantity: resistance, range: 600, resolution: 0.1, of_reading: 0.008, digits: 2, source: "manual, page 13"}
      - {quantity: dc_voltage, range: 60, resolution: 0.01, of_reading: 0.005, digits: 2, source: "manual, page 12"}
`), Options{})
	if c == nil {
		t.Fatal(problems)
	}
	h := c.Handhelds[0]
	if h.Name != "pocket" || len(h.Channels) != 2 || h.Channels[0].Quantity != capture.DCVoltage || len(h.Channels[0].Accuracy) != 2 || h.Channels[0].Accuracy[1].Range != 60 {
		t.Errorf("%+v", h)
	}
}
