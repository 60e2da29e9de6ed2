package wire

import (
	"context"
	"fmt"
	"math/rand/v2"
	"net"
	"strconv"
	"strings"
	"time"
)

// The port mapper (RFC 1833): it knows on which port a program is served.
const (
	portmapPort    = "111"
	portmapProgram = 100000
	portmapVersion = 2
	portmapGetPort = 3
	portmapTCP     = 6
)

// vxi11Smallest is what every far end must take in one write.
const vxi11Smallest = 1024

// dialVXI11 opens a link to one instrument behind an address.
func dialVXI11(ctx context.Context, a Address, l Line) (port, error) {
	where, device := splitDevice(a.Path)
	deadline := time.Now().Add(dialTimeout)
	if _, given, _ := cutHost(where); given == "" {
		served, err := lookUp(ctx, deadline, net.JoinHostPort(strings.Trim(where, "[]"), portmapPort), l)
		if err != nil {
			return nil, explainOpening(a, "VXI-11", err)
		}
		where = net.JoinHostPort(strings.Trim(where, "[]"), strconv.Itoa(served))
	}
	rpc, err := dialRPC(ctx, where, l)
	if err != nil {
		return nil, err
	}
	p := &vxi11Port{rpc: rpc, line: l}
	if err := p.createLink(ctx, deadline, device); err != nil {
		_ = rpc.close()
		return nil, explainOpening(a, "VXI-11", err)
	}
	rpc.records.limit = p.readSize() + rpcLongest
	return p, nil
}

// lookUp asks the port mapper where the instrument's program is served.
func lookUp(ctx context.Context, deadline time.Time, where string, l Line) (int, error) {
	rpc, err := dialRPC(ctx, where, l)
	if err != nil {
		return 0, fmt.Errorf("looking for its port: %w", err)
	}
	defer rpc.close()
	args := appendUints(nil, vxi11Core, vxi11Version, portmapTCP, 0)
	results, err := rpc.call(ctx, deadline, portmapProgram, portmapVersion, portmapGetPort, args)
	if err != nil {
		return 0, fmt.Errorf("looking for its port: %w", err)
	}
	served := results.uint()
	if results.short || served == 0 || served > 65535 {
		return 0, fmt.Errorf("%w: it does not offer VXI-11: switch that on at the instrument, or use a link of kind hislip or tcp", ErrNoPort)
	}
	return int(served), nil
}

func (p *vxi11Port) createLink(ctx context.Context, deadline time.Time, device string) error {
	client := rand.Uint32() >> 1
	args := appendUints(nil, client, 0 /* no lock */, 0)
	args = appendOpaque(args, []byte(device))
	results, err := p.rpc.call(ctx, deadline, vxi11Core, vxi11Version, vxi11CreateLink, args)
	if err != nil {
		return err
	}
	code, link, _, most := results.uint(), results.uint(), results.uint(), results.uint()
	if code == vxi11ErrAccess || code == 21 {
		return fmt.Errorf("%w: %w: check the name %s behind the slash", ErrNoPort, vxi11Error("open link", code), device)
	}
	if code != 0 {
		return vxi11Error("open link", code)
	}
	if results.short {
		return fmt.Errorf("open link: it answers with data that cannot be read: %w", errForeign)
	}
	if most == 0 {
		most = vxi11Smallest
	}
	p.link, p.most = link, int(min(most, 1<<20))
	return nil
}
