package app

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"encoding/base64"
	"errors"
	"fmt"
	"log"
	"net"
	"net/http"
	"strings"
	"sync"
	"time"

	"steadyrail/capture"
	"steadyrail/capture/job"
	"steadyrail/dashboards"
)

// A handover is a page for a phone: a second listener, on an address that the
// phone reaches, for one job and a few minutes. It is encrypted with a
// certificate made for it, whose fingerprint stands on the bench's screen: no
// authority vouches for it, so the phone warns, and the person compares.

const (
	usualHandover   = 10 * time.Minute
	longestHandover = 60
	// slowestUpload bounds one request: a large picture over a poor wireless link.
	slowestUpload = 2 * time.Minute
	// mostReceived bounds what one page takes: who found its address must not fill
	// the disk that measuring needs.
	mostReceived = 100
)

// handover is one that is open.
type handover struct {
	told    dashboards.Handover
	address string
	serve   *http.Server
	timer   *time.Timer
	ended   chan struct{} // closed when its server has ended
}

// handovers are the open ones, one a job. It is safe for concurrent use.
type handovers struct {
	mu   sync.Mutex
	open map[string]*handover
}

// Handover opens the page for a phone; one that is open already is closed first.
// address is a host of this computer, with or without port; "" chooses one.
func (a *App) Handover(ctx context.Context, id string, minutes int, address string) (dashboards.Handover, error) {
	j, err := a.job(id)
	if err != nil {
		return dashboards.Handover{}, err
	}
	length := time.Duration(minutes) * time.Minute
	switch {
	case minutes == 0:
		length = usualHandover
	case minutes < 0 || minutes > longestHandover:
		return dashboards.Handover{}, &dashboards.Error{Kind: dashboards.Invalid, Detail: fmt.Sprintf("a page for a phone is open for 1 to %d minutes, not %d", longestHandover, minutes)}
	}
	if address == "" {
		address = a.config().Phone
	}
	listen, err := reachable(address)
	if err != nil {
		kind := dashboards.Unavailable
		if address != "" {
			kind = dashboards.Invalid
		}
		return dashboards.Handover{}, &dashboards.Error{Kind: kind, Detail: "open a page for a phone", Err: err, Hint: "name an address of this computer that the phone reaches: --address 192.168.1.20"}
	}
	a.endHandover(j.id)
	h, err := a.openHandover(ctx, j.id, listen, length)
	if err != nil {
		return dashboards.Handover{}, &dashboards.Error{Kind: dashboards.Unavailable, Detail: "open a page for a phone at " + listen, Err: err}
	}
	a.post(j, capture.Act{Verb: capture.ActHandover, Subject: h.address, Text: "open for " + job.Span(length), By: j.book.Sheet().Technician})
	return h.told, nil
}

// reachable returns where to listen: the address as given, or the first private
// one of an interface that is up (RFC 1918, RFC 4193). Never every address at once.
func reachable(address string) (string, error) {
	if address == "" {
		addrs, err := net.InterfaceAddrs()
		if err != nil {
			return "", err
		}
		for _, known := range addrs {
			if n, ok := known.(*net.IPNet); ok && n.IP.IsPrivate() && (address == "" || n.IP.To4() != nil && !strings.Contains(address, ".")) {
				address = n.IP.String()
			}
		}
		if address == "" {
			return "", errors.New("this computer has no address in a local network")
		}
	}
	host, port, err := net.SplitHostPort(address)
	if err != nil {
		host, port = strings.Trim(address, "[]"), "0"
	}
	if ip := net.ParseIP(host); ip == nil || ip.IsUnspecified() {
		return "", fmt.Errorf("%.60q is no address of one interface", address)
	}
	return net.JoinHostPort(host, port), nil
}

func (a *App) openHandover(ctx context.Context, id, listen string, length time.Duration) (*handover, error) {
	ln, err := new(net.ListenConfig).Listen(ctx, "tcp", listen)
	if err != nil {
		return nil, err
	}
	ends := time.Now().Add(length)
	host := ln.Addr().(*net.TCPAddr)
	cert, err := certificate(host.IP, ends)
	if err != nil {
		return nil, errors.Join(err, ln.Close())
	}
	var secret [16]byte
	_, _ = rand.Read(secret[:]) // never fails, see crypto/rand
	token := base64.RawURLEncoding.EncodeToString(secret[:])
	sum := sha256.Sum256(cert.Certificate[0])
	h := &handover{ended: make(chan struct{}), address: host.String(), told: dashboards.Handover{
		Job: id, URL: "https://" + host.String() + "/" + token, Fingerprint: grouped(sum[:]), Ends: ends,
	}}
	h.serve = &http.Server{
		Handler: dashboards.NewPhone(dashboards.PhoneOptions{
			Job: id, Token: token, Host: host.String, Closed: func() bool { return !time.Now().Before(ends) },
			Take: func(r *http.Request, f dashboards.File) (dashboards.Result, error) {
				return a.fromPhone(r.Context(), id, h, f)
			},
		}),
		ReadHeaderTimeout: 10 * time.Second, ReadTimeout: slowestUpload, WriteTimeout: slowestUpload, IdleTimeout: time.Minute, MaxHeaderBytes: 16 << 10,
		TLSConfig: &tls.Config{Certificates: []tls.Certificate{cert}, MinVersion: tls.VersionTLS12},
		ErrorLog:  log.New(a.log, "", 0), // a phone that does not trust the certificate yet says so here
	}
	h.timer = time.AfterFunc(length, func() { a.closeHandover(id, h) })
	go func() {
		defer close(h.ended)
		_ = h.serve.ServeTLS(ln, "", "") // ends when it is closed
	}()
	if before := a.handovers.put(id, h); before != nil { // of one who asked at the same time
		a.closeHandover(id, before)
	}
	return h, nil
}

// fromPhone records what a phone sent.
func (a *App) fromPhone(ctx context.Context, id string, h *handover, f dashboards.File) (dashboards.Result, error) {
	if !a.handovers.takes(h) {
		return dashboards.Result{}, &dashboards.Error{
			Kind: dashboards.Refused, Detail: fmt.Sprintf("this page has taken %d files, and takes no more", mostReceived), Hint: "Open a new one on the bench",
		}
	}
	res, err := a.Enclose(ctx, id, f)
	if err != nil {
		a.handovers.mu.Lock()
		h.told.Received--
		a.handovers.mu.Unlock()
	}
	return res, err
}

// put makes a page that of a job, and returns the one that it had.
func (o *handovers) put(id string, h *handover) (before *handover) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.open == nil {
		o.open = map[string]*handover{}
	}
	before, o.open[id] = o.open[id], h
	return before
}

// takes counts one more file of a page, unless it has had enough.
func (o *handovers) takes(h *handover) bool {
	o.mu.Lock()
	defer o.mu.Unlock()
	if h.told.Received >= mostReceived {
		return false
	}
	h.told.Received++
	return true
}

// OpenHandover tells of the page that is open for a job.
func (a *App) OpenHandover(id string) (dashboards.Handover, bool) {
	if j, err := a.job(id); err == nil {
		id = j.id
	}
	a.handovers.mu.Lock()
	defer a.handovers.mu.Unlock()
	h := a.handovers.open[id]
	if h == nil || !time.Now().Before(h.told.Ends) {
		return dashboards.Handover{}, false
	}
	return h.told, true
}

// EndHandover closes the page for a phone.
func (a *App) EndHandover(id string) (dashboards.Result, error) {
	if j, err := a.job(id); err == nil {
		id = j.id
	}
	if !a.endHandover(id) {
		return dashboards.Result{}, &dashboards.Error{Kind: dashboards.NotFound, Detail: "no page for a phone is open for job " + id}
	}
	return dashboards.Result{Job: id, Say: "The page for a phone is closed."}, nil
}

func (a *App) endHandover(id string) bool {
	a.handovers.mu.Lock()
	h := a.handovers.open[id]
	a.handovers.mu.Unlock()
	if h == nil {
		return false
	}
	a.closeHandover(id, h)
	return true
}

// closeHandover ends a server at once: what is half sent is not kept.
func (a *App) closeHandover(id string, h *handover) {
	a.handovers.mu.Lock()
	was := a.handovers.open[id] == h
	if was {
		delete(a.handovers.open, id)
	}
	a.handovers.mu.Unlock()
	h.timer.Stop()
	_ = h.serve.Close()
	<-h.ended
	if j, err := a.job(id); was && err == nil {
		a.post(j, capture.Act{Verb: capture.ActHandover, Subject: h.address, Text: "closed, " + a.handovers.came(h)})
	}
}

// came says how many files came by a page.
func (o *handovers) came(h *handover) string {
	o.mu.Lock()
	defer o.mu.Unlock()
	if h.told.Received == 0 {
		return "nothing came by it"
	}
	return counted(h.told.Received, "file", "files") + " came by it"
}
