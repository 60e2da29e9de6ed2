package dashboards

import (
	"context"
	"net/http"
	"time"

	"steadyrail/capture"
	"steadyrail/dashboards/web"
)

// Options is what the handler is built from. Only Bench is required.
type Options struct {
	Bench   Bench
	Token   string              // every act needs it; "": nobody may act
	Hosts   []string            // further names the daemon answers to, with or without port
	Metrics http.Handler        // serves /metrics; nil: there is none
	Ready   func() error        // nil, or why the bench is not ready; nil function: always ready
	Command string              // how the program is called on the first page; "": steadyrail
	Zone    *time.Location      // of the times on the screens; nil: local
	Faults  http.Handler        // of a simulated bench, at /demo/faults; nil: there is none
	Plan    Planner             // of soaks; nil: there is none
	StandIn StandInJudge        // of converters; nil: there is none
	Cold    ColdChecker         // of capacitors and leads; nil: there is none
	Decimal capture.DecimalMark // of the figures on the screens; the API keeps the point
	Soak    Soaker              // of soaks by a plan; nil: there is none
	Trim    Trimmer             // of rails under the screwdriver; nil: there is none
	Entries Entries             // pictures, sounds, the sheet; nil: there are none
	Hands   Hands               // of a simulated bench, at /demo; nil: there are none
	Isolate Isolator            // of faults; nil: there is none
	Limiter Limiter             // of limiters in series; nil: there is none
	Health  Examiner            // of the bench itself; nil: there is none
	// StandInsKept lists the judgements that a job's record keeps, with what its
	// soak made of them; nil: there is none.
	StandInsKept func(ctx context.Context, job string) ([]capture.StandInJudged, error)

	// ColdAged says of a job why its cold checks count no more before an output goes
	// on, and what to do; "" while they count. nil: nothing is said.
	ColdAged func(job string) (say, do string)

	Walk Walker // from rail to rail; nil: there is none
	// Kinds lists the kinds of rule with what follows from the rails; nil: the
	// page of rules shows what is in force only.
	Kinds    func(rails []capture.Rail) []capture.KindInfo
	BodyTime time.Duration   // how long the body of a request may take to come; 0: 10 s
	Done     <-chan struct{} // closed when the daemon stops, so that streams end; nil: never
}

// maxStreams bounds the browsers that may listen at once.
const maxStreams = 64

type handler struct {
	opts        Options
	keeper      keeper
	pages       *web.Pages
	crossOrigin *http.CrossOriginProtection
	boot        string // tells event ids of this handler from those of an earlier one
	streams     chan struct{}
}

// New returns the handler of everything that is served. It panics when the
// Bench is missing or an embedded template cannot be read: both are faults of
// the program.
func New(o Options) http.Handler {
	if o.Bench == nil {
		panic("dashboards: Options.Bench is missing")
	}
	if o.Command == "" {
		o.Command = "steadyrail"
	}
	if o.Zone == nil {
		o.Zone = time.Local
	}
	pages, err := web.New()
	if err != nil {
		panic(err)
	}
	pages.Turn = turner(o)
	h := &handler{opts: o, keeper: newKeeper(o.Token), pages: pages, crossOrigin: http.NewCrossOriginProtection(), streams: make(chan struct{}, maxStreams)}
	h.boot = h.keeper.open()[:8]
	mux := http.NewServeMux()
	for _, rt := range h.routes() {
		serve := rt.serve
		if rt.act {
			serve = h.acting(serve)
		}
		mux.HandleFunc(rt.method+" "+rt.path, serve)
	}
	if o.Faults != nil {
		mux.Handle("GET /demo/faults", o.Faults)
		mux.HandleFunc("POST /demo/faults", h.acting(o.Faults.ServeHTTP))
	}
	if o.Hands != nil {
		h.handsRoutes(mux)
	}
	mux.HandleFunc("/", h.nothing)
	return h.withDecimal(h.guard(mux))
}

// route is one line of the table of everything that is served.
type route struct {
	method, path string
	act          bool // needs the token
	serve        http.HandlerFunc
}

// routes is the table. The API's part is promised in openapi.json, and a test
// holds the two together.
func (h *handler) routes() []route {
	assets := http.StripPrefix("/assets/", http.FileServerFS(web.Assets()))
	return []route{
		{"GET", "/{$}", false, h.withToken(h.page("bench"))},
		{"GET", "/rail", false, h.withToken(h.railInWork)},
		{"GET", "/trim", false, h.withToken(h.trimPage)},
		{"GET", "/rail/{rail}", false, h.withToken(h.page("rail"))},
		{"GET", "/alarms", false, h.withToken(h.page("alarms"))},
		{"GET", "/rules", false, h.withToken(h.page("rules"))},
		{"GET", "/health", false, h.withToken(h.healthPage)},
		{"GET", "/isolate", false, h.withToken(h.pageIsolate)},
		{"GET", "/standin", false, h.withToken(h.standInPage)},
		{"GET", "/soak", false, h.withToken(h.page("soak"))},
		{"POST", "/soak", true, h.formSoak},
		{"GET", "/discharge", false, h.withToken(h.page("discharge"))},
		{"GET", "/walk", false, h.withToken(h.page("walk"))},
		{"GET", "/job", false, h.withToken(h.page("job"))},
		{"GET", "/report", false, h.withToken(h.reportInWork)},
		{"GET", "/reports", false, h.withToken(h.reportsPage)},
		{"POST", "/unlock", false, h.unlock},
		{"POST", "/jobs", true, h.formJob},
		{"POST", "/acts", true, h.formAct},
		{"POST", "/permits", true, h.formPermit},
		{"POST", "/limits", true, h.formLimits},
		{"POST", "/placements", true, h.formPlacement},
		{"POST", "/entries", true, h.formEntry},
		{"POST", "/entries/file", true, h.formFile},
		{"POST", "/entries/part", true, h.formPart},
		{"POST", "/sheet", true, h.formSheet},
		{"POST", "/handover", true, h.formHandover},
		{"POST", "/standin", true, h.formStandIn},
		{"POST", "/isolate", true, h.formIsolate},
		{"POST", "/discharge", true, h.formDischarge},
		{"POST", "/walk", true, h.formWalk},
		{"POST", "/notifiers/test", true, h.formNotifierTest},
		{"POST", "/reload", true, h.formReload},
		{"GET", "/problems/{kind}", false, h.meaning},
		{"GET", "/assets/", false, cached(assets)},
		{"GET", "/healthz", false, h.healthz},
		{"GET", "/readyz", false, h.readyz},
		{"GET", "/metrics", false, h.metrics},
		{"GET", "/api/v1/rails", false, h.getRails},
		{"GET", "/api/v1/readings", false, h.getReadings},
		{"GET", "/api/v1/placements", false, h.getPlacements},
		{"POST", "/api/v1/placements", true, h.postPlacement},
		{"GET", "/api/v1/placements/check", false, h.checkPlacement},
		{"GET", "/api/v1/entries", false, h.getEntries},
		{"POST", "/api/v1/entries", true, h.postEntry},
		{"POST", "/api/v1/acts", true, h.postAct},
		{"POST", "/api/v1/permits", true, h.postPermit},
		{"GET", "/api/v1/alarms", false, h.getAlarms},
		{"GET", "/api/v1/jobs", false, h.getJobs},
		{"POST", "/api/v1/jobs", true, h.postJob},
		{"GET", "/api/v1/jobs/{job}", false, h.getJob},
		{"POST", "/api/v1/jobs/{job}/sheet", true, h.postSheet},
		{"GET", "/api/v1/jobs/{job}/enclosures/{hash}", false, h.getEnclosure},
		{"DELETE", "/api/v1/jobs/{job}/enclosures/{hash}", true, h.deleteEnclosure},
		{"GET", "/api/v1/jobs/{job}/returned", false, h.getReturned},
		{"GET", "/api/v1/jobs/{job}/handover", true, h.getHandover},
		{"POST", "/api/v1/jobs/{job}/handover", true, h.postHandover},
		{"DELETE", "/api/v1/jobs/{job}/handover", true, h.deleteHandover},
		{"GET", "/api/v1/jobs/{job}/transitions", false, h.getTransitions},
		{"GET", "/api/v1/jobs/{job}/standins", false, h.getStandIns},
		{"GET", "/api/v1/jobs/{job}/export", false, h.export},
		{"GET", "/api/v1/jobs/{job}/report", false, h.report},
		{"GET", "/api/v1/instruments", false, h.getInstruments},
		{"GET", "/api/v1/soakplan", false, h.getSoakPlan},
		{"GET", "/api/v1/trim", false, h.getTrim},
		{"GET", "/api/v1/soak", false, h.getSoak},
		{"POST", "/api/v1/soak", true, h.postSoak},
		{"GET", "/api/v1/walk", false, h.getWalk},
		{"POST", "/api/v1/walk", true, h.postWalk},
		{"POST", "/api/v1/standin", true, h.postStandIn},
		{"GET", "/api/v1/isolate", false, h.getIsolate},
		{"POST", "/api/v1/isolate", true, h.postIsolate},
		{"GET", "/api/v1/boards", false, h.getBoards},
		{"GET", "/api/v1/boards/{board}", false, h.getBoard},
		{"GET", "/api/v1/limiter", false, h.getLimiter},
		{"GET", "/api/v1/cautions", false, h.getCautions},
		{"GET", "/api/v1/discharge", false, h.getDischarge},
		{"POST", "/api/v1/discharge", true, h.postDischarge},
		{"GET", "/api/v1/discharge/card", false, h.getDischargeCard},
		{"GET", "/api/v1/notifiers", false, h.getNotifiers},
		{"POST", "/api/v1/notifiers/{name}/test", true, h.postNotifierTest},
		{"GET", "/api/v1/doctor", false, h.getDoctor},
		{"GET", "/api/v1/configuration", false, h.getConfiguration},
		{"POST", "/api/v1/reload", true, h.postReload},
		{"GET", "/api/v1/stream", false, h.stream},
		{"GET", "/api/v1/openapi.json", false, h.openAPI},
	}
}

func cached(next http.Handler) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Cache-Control", "no-cache")
		next.ServeHTTP(w, r)
	}
}

// nothing answers for what is not in the table: a wrong address, or a right
// one with the wrong method.
func (h *handler) nothing(w http.ResponseWriter, r *http.Request) {
	h.fail(w, r, &Error{Kind: NotFound, Detail: "there is nothing at " + r.Method + " " + clip(r.URL.Path), Hint: "what there is stands in /api/v1/openapi.json"})
}

func (h *handler) healthz(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	_, _ = w.Write([]byte("running\n"))
}

func (h *handler) readyz(w http.ResponseWriter, r *http.Request) {
	if h.opts.Ready != nil {
		if err := h.opts.Ready(); err != nil {
			h.fail(w, r, &Error{Kind: Unavailable, Detail: "not ready", Err: err})
			return
		}
	}
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	_, _ = w.Write([]byte("ready\n"))
}

func (h *handler) metrics(w http.ResponseWriter, r *http.Request) {
	if h.opts.Metrics == nil {
		h.nothing(w, r)
		return
	}
	h.opts.Metrics.ServeHTTP(w, r)
}
