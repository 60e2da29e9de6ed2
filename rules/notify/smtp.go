package notify

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"net/smtp"
	"net/textproto"
	"strings"
	"unicode"
)

// hand carries one mail to the server. A recipient that is refused for good
// does not keep the mail from the others.
func (e *Email) hand(ctx context.Context, text []byte) error {
	c, err := e.connect(ctx)
	if err != nil {
		return answered(err)
	}
	defer c.Close()
	if err := e.prove(c); err != nil {
		return answered(err)
	}
	if err := c.Mail(e.from.Address); err != nil {
		return answered(fmt.Errorf("from %s: %w", e.from.Address, err))
	}
	taken, refused, err := e.recipients(c)
	if err != nil {
		return err
	}
	if len(taken) > 0 {
		if err := content(c, text); err != nil {
			return answered(err)
		}
		for _, to := range taken {
			e.done[to] = true
		}
	}
	_ = c.Quit() // the mail is theirs already
	return errors.Join(refused...)
}

// recipients names everyone who has not had the mail yet.
func (e *Email) recipients(c *smtp.Client) (taken []string, refused []error, err error) {
	for _, to := range e.to {
		if e.done[to.Address] {
			continue
		}
		err := c.Rcpt(to.Address)
		if err == nil {
			taken = append(taken, to.Address)
			continue
		}
		err = answered(fmt.Errorf("to %s: %w", to.Address, err))
		var reply *textproto.Error
		if !errors.As(err, &reply) {
			return nil, nil, err // the connection is gone
		}
		refused = append(refused, err)
	}
	// One that only asks for patience is tried again, whatever the others said.
	for _, r := range refused {
		if !errors.Is(r, ErrPermanent) {
			return taken, []error{r}, nil
		}
	}
	return taken, refused, nil
}

// connect dials and secures the connection. When ctx is done it is cut.
func (e *Email) connect(ctx context.Context) (*smtp.Client, error) {
	conn, err := new(net.Dialer).DialContext(ctx, "tcp", e.server)
	if err != nil {
		return nil, err
	}
	context.AfterFunc(ctx, func() { conn.Close() })
	if e.mode == "implicit" {
		secure := tls.Client(conn, e.tls())
		if err := secure.HandshakeContext(ctx); err != nil {
			return nil, errors.Join(err, conn.Close())
		}
		conn = secure
	}
	c, err := smtp.NewClient(conn, e.host)
	if err != nil {
		conn.Close()
		return nil, err
	}
	if err := e.secure(c); err != nil {
		c.Close()
		return nil, err
	}
	return c, nil
}

func (e *Email) secure(c *smtp.Client) error {
	if err := c.Hello("localhost"); err != nil {
		return err
	}
	if e.mode != "starttls" {
		return nil
	}
	if ok, _ := c.Extension("STARTTLS"); !ok {
		return fmt.Errorf("it offers no STARTTLS, and nothing is sent in the clear: %w", ErrPermanent)
	}
	return c.StartTLS(e.tls())
}

// prove says who we are, when a user is configured.
func (e *Email) prove(c *smtp.Client) error {
	if e.user == "" {
		return nil
	}
	password, err := e.password()
	if err != nil {
		return fmt.Errorf("%w: %w", ErrPermanent, err)
	}
	return c.Auth(smtp.PlainAuth("", e.user, password, e.host))
}

func content(c *smtp.Client, text []byte) error {
	w, err := c.Data()
	if err != nil {
		return err
	}
	if _, err := w.Write(text); err != nil {
		return err
	}
	return w.Close() // the server's word on the whole mail
}

// answered sorts an error: what a server answered with 5xx is final (RFC 5321,
// 4.2.1), all else may go better another time. The server's words are cleaned,
// for they end up on screens.
func answered(err error) error {
	var reply *textproto.Error
	if !errors.As(err, &reply) {
		return err
	}
	reply.Msg = clean(reply.Msg, 200)
	if reply.Code >= 500 {
		return fmt.Errorf("%w: %w", err, ErrPermanent)
	}
	return err
}

// clean makes one line of at most n bytes of a text.
func clean(s string, n int) string {
	s = strings.Join(strings.FieldsFunc(strings.ToValidUTF8(s, "?"), func(r rune) bool { return unicode.IsControl(r) || unicode.IsSpace(r) }), " ")
	if len(s) > n {
		s = strings.ToValidUTF8(s[:n], "") + "..."
	}
	return s
}
