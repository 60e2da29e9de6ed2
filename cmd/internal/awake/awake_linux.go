package awake

import (
	"context"
	"errors"
	"fmt"
	"os"
	"time"

	"github.com/godbus/dbus/v5"
)

// patient is how long the login manager may take to answer.
const patient = 2 * time.Second

// Inhibit asks the login manager not to let the computer sleep or idle until
// release is called (org.freedesktop.login1.Manager.Inhibit, as its interface
// description states it: the lock lasts as long as the descriptor it answers with
// is open).
func Inhibit(why string) (release func(), err error) { return inhibitAt(busAddress(), why, patient) }

// busAddress is where the system bus listens, as its specification says.
func busAddress() string {
	if a := os.Getenv("DBUS_SYSTEM_BUS_ADDRESS"); a != "" {
		return a
	}
	return "unix:path=/var/run/dbus/system_bus_socket"
}

func inhibitAt(address, why string, patient time.Duration) (func(), error) {
	// The context ends the connection with it: it is ended by the clock while
	// something is asked, and by release.
	ctx, end := context.WithCancel(context.Background())
	late := time.AfterFunc(patient, end)
	defer late.Stop()
	conn, err := dbus.Connect(address, dbus.WithContext(ctx))
	if err != nil {
		end()
		return nil, fmt.Errorf("%w: the system bus: %w", ErrCannot, err)
	}
	var lock dbus.UnixFD
	err = conn.Object("org.freedesktop.login1", "/org/freedesktop/login1").
		CallWithContext(ctx, "org.freedesktop.login1.Manager.Inhibit", 0, "sleep:idle", who, why, "block").Store(&lock)
	if err != nil {
		end()
		return nil, errors.Join(fmt.Errorf("%w: the login manager: %w", ErrCannot, err), conn.Close())
	}
	file := os.NewFile(uintptr(lock), "inhibitor")
	return func() {
		_, _ = file.Close(), conn.Close() // both only let go
		end()
	}, nil
}
