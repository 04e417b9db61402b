package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"net"
	"net/http"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"strikerose/dataset/corpus"
	"strikerose/label/page"
)

// maxPlanBytes is the longest plan that the page is started with.
const maxPlanBytes = 1 << 20

type labelServeFlags struct {
	addr, labeller, detector, plan string
	wanted                         int
}

func newLabelServe(a *app) *cobra.Command {
	var f labelServeFlags
	cmd := &cobra.Command{
		Use:   "serve",
		Short: "Label strikes by hand on a local page, and call out a plan",
		Long: `Serve a page on this machine alone, on which strikes are confirmed, corrected,
split, added and rejected by keyboard, mouse or touch, beside the traces and, if
you like, a video. Each action is in the session's journal before the page calls
it saved; undo is one more line there. Several people may label at once, each
under a name of their own. A second page calls out a plan. It runs until it is
stopped (Ctrl-C).

Estimates of a detector are shown beside each strike but never taken over:
labels that copy a detector cannot judge it.`,
		Example: "strikerose label serve -C gym --labeller anna",
		Args:    takes(0, 0, ""),
		RunE: func(cmd *cobra.Command, args []string) error {
			if f.wanted < 1 {
				return usagef(cmd, "--wanted %d: give how many labelled strikes you want on each face in each band, 1 or more", f.wanted)
			}
			if err := loopback(f.addr); err != nil {
				return usagef(cmd, "%w", err)
			}
			return runLabelServe(cmd.Context(), a, f)
		},
	}
	cmd.Flags().StringVar(&f.addr, "addr", "127.0.0.1:7420", "`HOST:PORT` of this machine to listen on; port 0 takes any")
	cmd.Flags().StringVar(&f.labeller, "labeller", "", "`NAME` to label under; the page asks where it is not given")
	cmd.Flags().StringVar(&f.detector, "detector", "", "show the estimates of the detector in this `FILE`")
	cmd.Flags().StringVar(&f.plan, "plan", "", "`FILE` of a plan to call out")
	cmd.Flags().IntVar(&f.wanted, "wanted", 10, "labelled strikes wanted on each face in each band: `N`")
	return cmd
}

// loopback refuses an address that other machines could reach.
func loopback(addr string) error {
	host, _, err := net.SplitHostPort(addr)
	if err != nil {
		return fmt.Errorf("--addr %q is no HOST:PORT, such as 127.0.0.1:7420", addr)
	}
	if ip := net.ParseIP(host); host != "localhost" && (ip == nil || !ip.IsLoopback()) {
		return fmt.Errorf("--addr %q can be reached from other machines: give 127.0.0.1, ::1 or localhost", addr)
	}
	return nil
}

func runLabelServe(ctx context.Context, a *app, f labelServeFlags) (err error) {
	c, err := corpus.Open(a.dir)
	if err != nil {
		return err
	}
	if _, err := c.Sessions(); err != nil {
		return err
	}
	o := page.Options{
		Corpus: newPageCorpus(a, c), Labeller: f.labeller, Wanted: f.wanted, Token: rand.Text(), Now: a.now,
		Cautions: cautionList(),
	}
	if f.plan != "" {
		if o.Plan, err = readAtMost(f.plan, maxPlanBytes); err != nil {
			return fmt.Errorf("label serve: %w", err)
		}
		o.PlanName = filepath.Base(f.plan)
	}
	if f.detector != "" {
		d, err := loadDetector(f.detector)
		if err != nil {
			return err
		}
		e := newPageEstimates(ctx, c, d.Detector)
		defer e.Close()
		o.Estimates = e
	}
	l, err := new(net.ListenConfig).Listen(ctx, "tcp", f.addr)
	if err != nil {
		return withHint(fmt.Errorf("label serve: %w", err), "another port: --addr 127.0.0.1:0 takes any that is free")
	}
	defer l.Close()
	at := l.Addr().(*net.TCPAddr)
	if !at.IP.IsLoopback() { // localhost may stand for anything in a hosts file
		return fmt.Errorf("label serve: %s can be reached from other machines: give --addr 127.0.0.1:%d", at, at.Port)
	}
	o.Hosts = []string{at.String(), fmt.Sprintf("localhost:%d", at.Port)}
	p := page.New(o)
	defer func() { err = errors.Join(err, p.Close()) }()
	if _, err := fmt.Fprintf(a.out, "open http://%s in a browser on this machine; Ctrl-C ends it\n", at); err != nil {
		return err
	}
	return serve(ctx, l, p)
}

// cautionList is the words of caution, one sentence or so each.
func cautionList() []string {
	list := strings.Split(cautions, "\n- ")[1:] // the first is their heading
	for i := range list {
		list[i] = strings.Join(strings.Fields(list[i]), " ")
	}
	return list
}

// serve answers on a listener until ctx is done.
func serve(ctx context.Context, l net.Listener, h http.Handler) error {
	s := &http.Server{
		Handler:           h,
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       30 * time.Second,
		WriteTimeout:      60 * time.Second,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    16 << 10,
	}
	ended := make(chan error, 1)
	keep := context.AfterFunc(ctx, func() {
		ending, cancel := context.WithTimeout(context.Background(), 3*time.Second)
		defer cancel()
		if s.Shutdown(ending) != nil { // an answer hangs: drop it
			ended <- s.Close()
		}
		close(ended)
	})
	if err := s.Serve(l); !errors.Is(err, http.ErrServerClosed) {
		keep()
		return fmt.Errorf("label serve: %w", err)
	}
	return <-ended
}
