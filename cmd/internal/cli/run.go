package cli

import (
	"context"
	"io"
	"os"

	"github.com/rs/zerolog"
	"github.com/spf13/cobra"

	"steadyrail/cmd/internal/app"
	"steadyrail/configs"
)

func runCommand(s streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "run --config FILE",
		Short: "Run the daemon of a bench",
		Long: `Run the daemon of a bench, until it is interrupted or asked to terminate. A hangup (SIGHUP)
has it read its configuration again, as steadyrail reload does.`,
		Args: cobra.NoArgs,
	}
	file := configFlag(c)
	listen := c.Flags().String("listen", "", "address to listen on, instead of the configuration's")
	workspace := c.Flags().String("workspace", "", "folder of the record, instead of the configuration's")
	c.RunE = func(cmd *cobra.Command, _ []string) error {
		flags := map[string]string{"listen": *listen, "workspace": *workspace}
		cfg, err := loadConfig(s, *file, flags)
		if err != nil {
			return err
		}
		s.read(cfg.Decimal, nil)
		a, err := app.New(app.Options{Config: cfg, Log: logger(s, cfg.LogLevel), Version: Version(), Talk: under(s.out), Reread: func() (*configs.Config, []configs.Problem) {
			return configs.LoadWith(*file, configs.Options{Flags: given(flags)})
		}})
		if err != nil {
			return use(err)
		}
		hangups, end := hangups()
		defer end()
		return serve(cmd.Context(), s, a, hangups)
	}
	return c
}

func configFlag(c *cobra.Command) *string {
	file := c.Flags().String("config", "", "configuration of the bench")
	_ = c.MarkFlagRequired("config")
	return file
}

// loadConfig reads a configuration and tells every problem at once.
func loadConfig(s streams, file string, flags map[string]string) (*configs.Config, error) {
	cfg, problems := configs.LoadWith(file, configs.Options{Flags: given(flags)})
	configs.Explain(s.err, problems)
	switch n := len(problems); n {
	case 0:
		return cfg, nil
	case 1:
		return nil, usef("1 problem in %s", file)
	default:
		return nil, usef("%d problems in %s", n, file)
	}
}

// given leaves out the flags that were not given.
func given(flags map[string]string) map[string]string {
	out := map[string]string{}
	for k, v := range flags {
		if v != "" {
			out[k] = v
		}
	}
	return out
}

// isTerminal reports whether somebody looks at what is written: a log in a file
// has no use for colours.
func isTerminal(w io.Writer) bool {
	f, ok := under(w).(*os.File)
	if !ok {
		return false
	}
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}

// logger writes lines for people to stderr.
func logger(s streams, level string) zerolog.Logger {
	l, err := zerolog.ParseLevel(level)
	if err != nil {
		l = zerolog.InfoLevel
	}
	_, noColour := os.LookupEnv("NO_COLOR")
	noColour = noColour || !isTerminal(s.err)
	return zerolog.New(zerolog.ConsoleWriter{Out: under(s.err), TimeFormat: "15:04:05", NoColor: noColour}).Level(l).With().Timestamp().Logger()
}

// serve starts a daemon, says where it is, has it read its configuration again at
// each hangup, and stops it when ctx is done.
func serve(ctx context.Context, s streams, a *app.App, hangups <-chan os.Signal) error {
	if err := a.Start(ctx); err != nil {
		return err
	}
	s.say("screens: http://%s/?token=%s", a.Address(), a.Token())
	for ctx.Err() == nil {
		select {
		case <-ctx.Done():
		case <-hangups:
			if res, err := a.Reload(ctx); err != nil {
				s.say("%v", err)
			} else {
				s.say("%s", res.Say)
			}
		}
	}
	s.say("stopping")
	return a.Stop(context.WithoutCancel(ctx))
}
