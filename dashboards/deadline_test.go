package dashboards_test

import (
	"bufio"
	"fmt"
	"io"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"

	"steadyrail/dashboards"
)

// A body that never comes does not hold a handler: whoever sends it so is told
// and let go. One that came is not hurried any more: what it asks for may last.
func TestSlowBody(t *testing.T) {
	b := newFake(night())
	srv := serve(t, b, func(o *dashboards.Options) { o.BodyTime = 50 * time.Millisecond })
	for _, path := range []string{"/api/v1/acts", "/api/v1/entries", "/api/v1/standin", "/acts", "/nowhere"} {
		conn, err := net.DialTimeout("tcp", srv.Listener.Addr().String(), 30*time.Second)
		if err != nil {
			t.Fatal(err)
		}
		defer conn.Close()
		if err := conn.SetDeadline(time.Now().Add(30 * time.Second)); err != nil {
			t.Fatal(err)
		}
		// A part of the body, and then nothing: the client waits for the answer.
		fmt.Fprintf(conn, "POST %s HTTP/1.1\r\nHost: %s\r\nAuthorization: Bearer %s\r\nContent-Type: application/json\r\nContent-Length: 1000\r\n\r\n{\"verb\":", path, srv.Listener.Addr(), token)
		resp, err := http.ReadResponse(bufio.NewReader(conn), nil)
		if err != nil {
			t.Errorf("%s: it held on: %v", path, err)
			continue
		}
		body, err := io.ReadAll(resp.Body)
		if err != nil {
			t.Errorf("%s: %v", path, err)
		}
		if resp.StatusCode < 400 || strings.HasPrefix(path, "/api/") && !strings.Contains(string(body), "did not come") {
			t.Errorf("%s: %d %s", path, resp.StatusCode, body)
		}
		resp.Body.Close()
	}
}

// The deadline ends with the body: what a handler does after it may last longer.
func TestDeadlineEndsWithTheBody(t *testing.T) {
	within := 20 * time.Millisecond
	lasting := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if _, err := io.ReadAll(r.Body); err != nil {
			t.Errorf("body: %v", err)
		}
		select {
		case <-r.Context().Done():
			t.Error("it was cut off after its body had come")
		case <-time.After(10 * within): // nothing to wait for: nothing may happen
		}
	})
	srv := serve(t, newFake(night()), func(o *dashboards.Options) { o.BodyTime, o.Faults = within, lasting })
	resp, _ := call(t, srv, req{method: "POST", path: "/demo/faults", body: `{"fault":"clear"}`, head: map[string]string{"Authorization": "Bearer " + token, "Content-Type": "application/json"}})
	if resp.StatusCode != http.StatusOK {
		t.Errorf("%d", resp.StatusCode)
	}
}
