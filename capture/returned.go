package capture

// Return compares how a set left after a job with how it came back.
type Return struct {
	Job   string       `json:"job"`  // the one before, of the same serial number
	Left  Instant      `json:"left"` // when that one was closed
	Rails []ReturnRail `json:"rails"`
}

// ReturnRail compares a rail's last figure of then with its first of now.
type ReturnRail struct {
	Rail        string   `json:"rail"`
	Quantity    Quantity `json:"quantity"`
	Left        *Result  `json:"left"`                  // null: not measured then
	Back        *Result  `json:"back"`                  // null: not measured yet
	Difference  float64  `json:"difference"`            // back - left, base unit; 0 when one is missing
	Uncertainty float64  `json:"uncertainty,omitempty"` // of the difference, expanded; 0: not stated
	Moved       bool     `json:"moved"`                 // by more than its uncertainty
	Say         string   `json:"say"`
}
