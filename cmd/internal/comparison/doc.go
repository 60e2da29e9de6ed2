// Package comparison holds steadyrail against what is outside it: a real
// Prometheus and Alertmanager that watch the daemon, a bare query loop on the
// same port, a bare HTTP request of the same body.
//
// It has no code of its own, only tests and benchmarks, and nothing imports
// it. Each benchmark runs its baseline beside itself, in the same run; no test
// asserts a time. What needs a program that is missing skips and says so, and
// fails under STEADYRAIL_REQUIRE_ALL=1.
//
//	go test ./cmd/internal/comparison
//	go test -run '^$' -bench Detection -benchtime 1x ./cmd/internal/comparison
//	go test -run '^$' -bench ReadingToWebhook -benchtime 500x ./cmd/internal/comparison
//	go test -run '^$' -bench ReadingToAlarm -benchtime 500x ./cmd/internal/comparison
//	go test -run '^$' -bench Poll -benchtime 2s ./cmd/internal/comparison
package comparison
