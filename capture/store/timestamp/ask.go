package timestamp

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"net/url"
)

// MaxResponse is the longest response that [Ask] takes, in bytes. A response
// with a chain of certificates has a few thousand.
const MaxResponse = 1 << 20

// Media types of RFC 3161, section 3.4.
const (
	queryType = "application/timestamp-query"
	replyType = "application/timestamp-reply"
)

// Ask posts the request to an authority and returns its response, a DER
// TimeStampResp for [Read]; what it says is not looked at here. It makes one
// attempt, for as long as ctx and the client allow; a nil client is
// [http.DefaultClient]. An HTTP status other than 200 is [ErrRefused], another
// kind of content or more than [MaxResponse] bytes [ErrMalformed]; other errors
// are those of the network. Errors name the address without user, path and query.
func Ask(ctx context.Context, client *http.Client, address string, r Request) ([]byte, error) {
	if client == nil {
		client = http.DefaultClient
	}
	to := redacted(address)
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, address, bytes.NewReader(r.DER()))
	if err != nil {
		return nil, fmt.Errorf("ask time-stamp authority %s: the address cannot be used; check it in the configuration", to)
	}
	req.Header.Set("Content-Type", queryType)
	req.Header.Set("Accept", replyType)
	req.Header.Set("User-Agent", "steadyrail")
	resp, err := client.Do(req)
	if err != nil {
		return nil, fmt.Errorf("ask time-stamp authority %s: %w; check the network and try again", to, cause(err))
	}
	defer resp.Body.Close()
	response, err := take(resp)
	if err != nil {
		return nil, fmt.Errorf("ask time-stamp authority %s: %w", to, err)
	}
	return response, nil
}

// take returns the body of a response that looks like an authority's.
func take(resp *http.Response) ([]byte, error) {
	if resp.StatusCode != http.StatusOK {
		return nil, fmt.Errorf("%w: answered %s; check the address, or try again later", ErrRefused, resp.Status)
	}
	kind := resp.Header.Get("Content-Type")
	if media, _, err := mime.ParseMediaType(kind); err != nil || media != replyType {
		return nil, fmt.Errorf("%w: content type is %.80q; check that the address is a time-stamp authority's", ErrMalformed, kind)
	}
	body, err := io.ReadAll(io.LimitReader(resp.Body, MaxResponse+1))
	if err != nil {
		return nil, fmt.Errorf("read its response: %w; try again", err)
	}
	if len(body) > MaxResponse {
		return nil, fmt.Errorf("%w: more than %d bytes; check that the address is a time-stamp authority's", ErrMalformed, MaxResponse)
	}
	return body, nil
}

// redacted leaves out what may be a secret: user, path and query.
func redacted(address string) string {
	u, err := url.Parse(address)
	if err != nil || u.Host == "" {
		return "without an address"
	}
	return u.Scheme + "://" + u.Host
}

// cause drops the address that the client puts into its errors.
func cause(err error) error {
	var u *url.Error
	if errors.As(err, &u) {
		return u.Err
	}
	return err
}
