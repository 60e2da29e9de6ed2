// Package dashboards is the doorway to everything that is looked at over HTTP:
// the screens (room web), the API under /api/v1, the metrics page and the
// stream of server-sent events.
//
// It promises:
//
//   - a request with a foreign Host is refused before anything else, so that a
//     web page elsewhere cannot reach the bench by rebinding a name;
//   - cross-site requests are refused, and every act needs the bench's token,
//     on loopback too, for other people may use the same computer;
//   - a slow or stopped browser costs one goroutine and the newest state, never
//     a queue, and never holds up measuring;
//   - every number carries its text and its resolution, and every error is a
//     problem document after RFC 9457 that says what to do.
//
// What it shows and does stands behind [Bench], which cmd/internal/app
// implements. The handler is safe for concurrent use.
package dashboards
