package doctor

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"time"

	"steadyrail/capture/store"
)

// answerTime is how long a daemon may take for one of its pages.
const answerTime = 2 * time.Second

// mostOfPage bounds what is read of one, in bytes.
const mostOfPage = 16 << 20

// Serving is the daemon that a workspace's lock tells of, asked over its own port.
func Serving(h store.Holder) Daemon { return serving{h} }

type serving struct{ holder store.Holder }

func (s serving) Holder() (int, string) { return s.holder.PID, s.holder.Address }

func (s serving) Get(ctx context.Context, path string) (int, string, error) {
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://"+s.holder.Address+path, nil)
	if err != nil {
		return 0, "", err
	}
	req.Header.Set("Authorization", "Bearer "+s.holder.Token)
	resp, err := (&http.Client{Timeout: answerTime}).Do(req)
	if err != nil {
		return 0, "", fmt.Errorf("ask the daemon: %w", err)
	}
	defer resp.Body.Close()
	text, err := io.ReadAll(io.LimitReader(resp.Body, mostOfPage))
	return resp.StatusCode, string(text), err
}
