// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/fmc/transmit"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/tfm"
)

const folder = "../../testdata/"

// weld is weld32, read once.
var weld = sync.OnceValue(func() *source { return check.Must(open(folder + "weld32.json")) })

// request returns a request as the page on a server at 127.0.0.1:80 sends it.
func request(method, target string, body io.Reader) *http.Request {
	r := httptest.NewRequest(method, target, body)
	r.Host, r.RemoteAddr = "127.0.0.1:80", "127.0.0.1:50000"
	local := &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 80}
	return r.WithContext(context.WithValue(r.Context(), http.LocalAddrContextKey, local))
}

// serveOne returns the response to a request.
func serveOne(s *source, r *http.Request) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	newHandler(s).ServeHTTP(w, r)
	return w
}

// unpack takes an answer apart, as the page does.
func unpack(t *testing.T, b []byte, head any) (numbers []float32) {
	t.Helper()
	if len(b) < 4 || len(b)%4 != 0 {
		t.Fatalf("%d bytes: want a multiple of 4", len(b))
	}
	n := binary.LittleEndian.Uint32(b)
	if err := json.Unmarshal(b[4:4+n], head); err != nil {
		t.Fatal(err)
	}
	for b = b[4+n:]; len(b) > 0; b = b[4:] {
		numbers = append(numbers, math.Float32frombits(binary.LittleEndian.Uint32(b)))
	}
	return numbers
}

func TestRefused(t *testing.T) {
	const small = "step=0.001"
	tests := []struct {
		name   string
		method string // GET by default
		target string
		change func(*http.Request)
		status int
		say    string // part of the text
	}{
		{name: "the host of another site, as in DNS rebinding", target: "/image?" + small,
			change: func(r *http.Request) { r.Host = "rebound.example" }, status: 421, say: "host"},
		{name: "the host with another port", target: "/", change: func(r *http.Request) { r.Host = "127.0.0.1:81" }, status: 421, say: "host"},
		{name: "a host that begins as the own one", target: "/", change: func(r *http.Request) { r.Host = "127.0.0.1:80.rebound.example" }, status: 421, say: "host"},
		{name: "no host", target: "/", change: func(r *http.Request) { r.Host = "" }, status: 421, say: "host"},
		{name: "another computer", target: "/", change: func(r *http.Request) { r.RemoteAddr = "192.0.2.1:50000" }, status: 403, say: "this computer"},
		{name: "another computer, in IPv6", target: "/", change: func(r *http.Request) { r.RemoteAddr = "[2001:db8::1]:50000" }, status: 403, say: "this computer"},
		{name: "no address", target: "/", change: func(r *http.Request) { r.RemoteAddr = "" }, status: 403, say: "this computer"},
		{name: "the origin of another site", target: "/about", change: header("Origin", "http://other.example"), status: 403, say: "origin"},
		{name: "the origin of another port", target: "/about", change: header("Origin", "http://127.0.0.1:81"), status: 403, say: "origin"},
		{name: "an origin without a site", target: "/about", change: header("Origin", "null"), status: 403, say: "origin"},
		{name: "an image of another site", target: "/image", change: header("Sec-Fetch-Site", "cross-site"), status: 403, say: "own page"},
		{name: "POST", method: "POST", target: "/image", status: 405, say: "method"},
		{name: "PUT", method: "PUT", target: "/", status: 405, say: "method"},
		{name: "OPTIONS, as before a request of another site", method: "OPTIONS", target: "/image", status: 405, say: "method"},
		{name: "CONNECT", method: "CONNECT", target: "/image", status: 405, say: "method"},
		{name: "a body", target: "/image?" + small, change: body("x"), status: 413, say: "body"},
		{name: "a body of unknown length", target: "/image?" + small,
			change: func(r *http.Request) { body("x")(r); r.ContentLength = -1 }, status: 413, say: "body"},

		{name: "no such page", target: "/other", status: 404},
		{name: "a file outside the page", target: "/main.go", status: 404},
		{name: "a file of this computer", target: "/..%2f..%2f..%2fetc/passwd", status: 404},

		{name: "another capture", target: "/image?capture=/etc/passwd", status: 400, say: `"capture": no such value`},
		{name: "a name of the page that this request does not have", target: "/pair?step=0.001", status: 400, say: `"step"`},
		{name: "a value that stands twice", target: "/image?step=0.001&step=0.001", status: 400, say: "2 times"},
		{name: "a query that is too long", target: "/image?" + strings.Repeat("a", maxQuery+1), status: 400, say: "at most 2000"},
		{name: "a query that is no query", target: "/image?view=%zz", status: 400, say: "escape"},
		{name: "semicolons", target: "/image?a;b", status: 400, say: "semicolon"},
		{name: "a view without paths", target: "/image?view=TTTT-T", status: 400, say: "view"},
		{name: "an empty view", target: "/image?view=", status: 400, say: "view"},
		{name: "a speed that is not finite", target: "/image?transverse=NaN", status: 400, say: "transverse"},
		{name: "an infinite speed", target: "/image?transverse=Inf", status: 400, say: "transverse"},
		{name: "a speed beyond float64", target: "/image?transverse=1e999", status: 400, say: "transverse"},
		{name: "a speed in other words", target: "/image?transverse=fast", status: 400, say: "transverse"},
		{name: "a speed of 0", target: "/image?transverse=0", status: 400, say: "want 2753"},
		{name: "a speed in km/s", target: "/image?transverse=3.24", status: 400, say: "want 2753"},
		{name: "a thickness beyond the slider", target: "/image?thickness=0.1", status: 400, say: "want 0.0143"},
		{name: "an angle beyond the slider", target: "/image?angle=1.5", status: 400, say: "angle"},
		{name: "an array in the part", target: "/image?height=-0.01", status: 400, say: "height"},
		{name: "a window of no width", target: "/image?x0=0.01&x1=0.01", status: 400, say: "x0 < x1"},
		{name: "a window the wrong way round", target: "/image?z0=0.016&z1=0.002", status: 400, say: "z0 < z1"},
		{name: "a window a kilometre away", target: "/image?x0=1000&x1=1001", status: 400, say: "x0"},
		{name: "too many pixels", target: "/image?step=1e-5", status: 400, say: "at most 200000"},
		{name: "too many pixels for ghosts", target: fmt.Sprintf("/ghosts?step=%v", weld().window.step(21_100)), status: 400, say: "at most 21000"},
		{name: "far too many pixels", target: "/image?x0=-1&x1=1&z0=-1&z1=1&step=1e-6", status: 400, say: "at most 200000"},
		{name: "too few pixels", target: "/image?step=0.5", status: 400, say: "at least 4"},
		{name: "a step of 0", target: "/image?step=0", status: 400, say: "step"},
		{name: "a step below 0", target: "/image?step=-0.001", status: 400, say: "step"},
		{name: "find without yes or no", target: "/image?find=perhaps", status: 400, say: "find"},
		{name: "a point far away", target: "/pair?x=5", status: 400, say: "x: 5"},
		{name: "a gate of two numbers", target: "/beam?near=1,2", status: 400, say: "want 3"},
		{name: "a gate of many numbers", target: "/beam?near=" + strings.Repeat("1,", 500), status: 400, say: "want 3"},
		{name: "a gate the wrong way round", target: "/beam?fixed=0.02,0.01,20", status: 400, say: "ascending"},
		{name: "a gate that is not finite", target: "/beam?fixed=0.02,Inf,20", status: 400, say: "fixed"},
		{name: "a gate of no number", target: "/beam?fixed=NaN,0.02,20", status: 400, say: "want a number"},
		{name: "a threshold of 0", target: "/beam?fixed=0.01,0.02,0", status: 400, say: "threshold"},
		{name: "flaws of a window", target: "/flaws?x0=0.01", status: 400, say: "x0"},
		{name: "a point above the part", target: "/pair?z=-0.001", status: 422, say: "no ray"},
		{name: "a beam to a point above the part", target: "/beam?z=-0.001", status: 422, say: "no beam"},
		{name: "a beam whose wave changes on the way", target: "/beam?view=LT-TL", status: 422, say: "no beam follows it"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			method := test.method
			if method == "" {
				method = "GET"
			}
			r := request(method, test.target, nil)
			if test.change != nil {
				test.change(r)
			}
			w := serveOne(weld(), r)
			if w.Code != test.status || !strings.Contains(w.Body.String(), test.say) {
				t.Errorf("status %d, %q; want %d and %q", w.Code, w.Body, test.status, test.say)
			}
			if len(w.Body.String()) > 500 {
				t.Errorf("a refusal of %d bytes", w.Body.Len())
			}
		})
	}
}

func header(name, value string) func(*http.Request) {
	return func(r *http.Request) { r.Header.Set(name, value) }
}

func body(text string) func(*http.Request) {
	return func(r *http.Request) {
		r.Body, r.ContentLength = io.NopCloser(strings.NewReader(text)), int64(len(text))
	}
}

// The page itself is served, with headers that let it load nothing from elsewhere.
func TestPage(t *testing.T) {
	for target, kind := range map[string]string{
		"/": "text/html", "/main.js": "text/javascript", "/style.css": "text/css", "/icon.svg": "image/svg+xml",
		"/about": "application/octet-stream",
	} {
		w := serveOne(weld(), request("GET", target, nil))
		h := w.Header()
		if w.Code != 200 || !strings.HasPrefix(h.Get("Content-Type"), kind) {
			t.Errorf("%s: status %d, type %q; want 200 and %s", target, w.Code, h.Get("Content-Type"), kind)
		}
		if p := h.Get("Content-Security-Policy"); !strings.HasPrefix(p, "default-src 'self';") || strings.Contains(p, "unsafe") {
			t.Errorf("%s: policy %q", target, p)
		}
		if h.Get("X-Content-Type-Options") != "nosniff" {
			t.Errorf("%s: no nosniff", target)
		}
		if text := w.Body.String(); strings.Contains(strings.ReplaceAll(text, "http://www.w3.org/2000/svg", ""), "http") {
			t.Errorf("%s: names another address", target)
		}
	}
}

// The levels of an image are the levels that the library gives for the same set-up.
func TestImageIsTheLibrarys(t *testing.T) {
	const step = 4e-4
	s := weld()
	w := serveOne(s, request("GET", "/image?view=TT-T&transverse=3272.4&step=4e-4", nil))
	var head imageHead
	got := unpack(t, w.Body.Bytes(), &head)

	ctx := context.Background()
	record := check.Must(npy.ReadFile(folder+"weld32.json", nil))
	grid := check.Must(tfm.NewSection(s.window.X0, s.window.X1, s.window.Z0, s.window.Z1, step))
	levels := func() []float32 {
		plan := check.Must(tfm.PlanView(ctx, record.Capture, check.Must(record.Geometry()), "TT-T", grid, nil))
		e := check.Must(plan.Image(ctx, record.Capture)).Envelope(nil)
		return check.Must(e.Decibels(nil, check.Must(s.reference(ctx, "TT-T")), lowest)).Data
	}
	asRecorded := levels()
	record.Part.Transverse = 3272.4
	want := levels()

	if head.Columns != grid.Cols || head.Rows != grid.Rows || len(got) != len(want) {
		t.Fatalf("%d × %d pixels and %d levels; want %d × %d", head.Columns, head.Rows, len(got), grid.Cols, grid.Rows)
	}
	var apart float64
	for i := range want {
		apart = max(apart, math.Abs(float64(asRecorded[i]-want[i])))
		if math.IsNaN(float64(got[i])) {
			continue // blank, which a level does not say
		}
		// The tables of the page are interpolated, within 0.5 ns.
		if want[i] > -30 && !(math.Abs(float64(got[i]-want[i])) <= 0.05) {
			t.Fatalf("pixel %d: %.3f dB; want %.3f dB", i, got[i], want[i])
		}
	}
	if !(apart > 10) {
		t.Errorf("the speed changes no level by more than %.3g dB, so the test shows nothing", apart)
	}
	if !(head.Peak.Level < 0 && head.Peak.Level > -6) {
		t.Errorf("peak at %.2f dB; want below 0 dB, the peak with the recorded speed", head.Peak.Level)
	}
}

// The height of a beam at its focus is the level of the pixel there: both sum the same samples.
// The share of all pairs together is 1.
func TestTracesAgreeWithImage(t *testing.T) {
	const point = "x=0.0195&z=0.0097"
	s := weld()
	var h beamHead
	numbers := unpack(t, serveOne(s, request("GET", "/beam?near=-0.002,0.002,20&fixed=0.01,0.04,20&"+point, nil)).Body.Bytes(), &h)
	k := (h.SoundPath - h.First) / h.Step
	i := int(k)
	got := float64(numbers[2*i+1])*(1-k+float64(i)) + float64(numbers[2*i+3])*(k-float64(i))

	var im imageHead
	levels := unpack(t, serveOne(s, request("GET", "/image?x0=0.0195&z0=0.0097&x1=0.0205&z1=0.0107&step=1e-4", nil)).Body.Bytes(), &im)
	want := 100 * math.Pow(10, float64(levels[0])/20)
	if !(math.Abs(got/want-1) <= 0.02) {
		t.Errorf("height at the focus %.1f %%; want %.1f %%, the amplitude of the pixel", got, want)
	}
	for _, g := range h.Gates {
		if g.Height == nil || !(math.Abs(*g.Height-want) <= 0.1*want) || !(math.Abs(*g.SoundPath-h.SoundPath) <= 1e-3) {
			t.Errorf("%s reads %v; want the echo at the focus", g.Name, g)
		}
	}

	all := check.Must(s.contributions(context.Background(), pointQuery{view: "T-T", setting: recorded(s.record), x: 0.0195, z: 0.0097}))
	var sum complex128
	for _, one := range all {
		sum += one.sample
	}
	amplitude := math.Hypot(real(sum), imag(sum)) / float64(check.Must(s.reference(context.Background(), "T-T")))
	if !(math.Abs(100*amplitude/want-1) <= 1e-3) {
		t.Errorf("the contributions sum to %.2f %%; want %.2f %%", 100*amplitude, want)
	}
	var pair pairHead
	trace := unpack(t, serveOne(s, request("GET", "/pair?"+point, nil)).Body.Bytes(), &pair)
	if len(trace) != 2*s.record.Capture.Samples || pair.Pairs != 1024 {
		t.Errorf("%d numbers of %d pairs", len(trace), pair.Pairs)
	}
	for _, one := range all {
		if along(one.sample, sum)/math.Hypot(real(sum), imag(sum)) > pair.Share+1e-12 {
			t.Errorf("pair %d-%d adds more than the best pair", one.tx, one.rx)
		}
	}
}

// A capture of plane waves has an image and traces, but no beams and no flaws.
func TestEvents(t *testing.T) {
	record := check.Must(npy.ReadFile(folder+"block16.json", nil))
	var directions []r3.Vec
	for degrees := -40.0; degrees <= 40; degrees += 5 {
		sin, cos := math.Sincos(degrees * math.Pi / 180)
		directions = append(directions, r3.Vec{X: sin, Z: cos})
	}
	waves := check.Must(transmit.PlaneWaves(record.Capture.Array, record.Part.Longitudinal, directions))
	record.Capture = check.Must(transmit.Encode(context.Background(), record.Capture, waves, nil))
	s := check.Must(newSource("waves", record))

	var im imageHead
	unpack(t, serveOne(s, request("GET", "/image?find=yes&step=0.0003&x0=-0.014&x1=-0.004&z0=0.006&z1=0.013", nil)).Body.Bytes(), &im)
	// The first hole (testdata/README.md).
	if im.Peak == nil || !(math.Hypot(im.Peak.X+8.65e-3, im.Peak.Z-9.40e-3) <= 0.3e-3) {
		t.Errorf("peak %+v; want the near face of the hole at -8.65, 9.40 mm", im.Peak)
	}
	var pair pairHead
	unpack(t, serveOne(s, request("GET", "/pair?x=-0.00865&z=0.0094", nil)).Body.Bytes(), &pair)
	if !pair.Event || pair.Pairs == 0 || pair.Pairs > len(waves)*16 {
		t.Errorf("best pair %+v", pair)
	}
	if w := serveOne(s, request("GET", "/beam", nil)); w.Code != 422 || !strings.Contains(w.Body.String(), "event") {
		t.Errorf("a beam: status %d, %q", w.Code, w.Body)
	}
	for _, target := range []string{"/flaws", "/ghosts"} {
		var list []any
		if unpack(t, serveOne(s, request("GET", target, nil)).Body.Bytes(), &list); len(list) != 0 {
			t.Errorf("%s: %v", target, list)
		}
	}
}

// A request whose page has gone ends early, and also one that waits for another.
func TestStaleRequestsEnd(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	l := make(lane, 1)
	started := make(chan struct{})
	handler := reply(l, func(ctx context.Context, _ *query) (*answer, error) {
		close(started)
		<-ctx.Done()
		return nil, ctx.Err()
	})
	ended := make(chan *httptest.ResponseRecorder, 2)
	send := func() {
		w := httptest.NewRecorder()
		handler.ServeHTTP(w, request("GET", "/flaws", nil).WithContext(ctx))
		ended <- w
	}
	go send()
	<-started
	go send()
	cancel()
	for range 2 {
		select {
		case w := <-ended:
			if w.Body.Len() > 0 {
				t.Errorf("a stale request is answered: %q", w.Body)
			}
		case <-time.After(10 * time.Second):
			t.Fatal("a stale request does not end")
		}
	}
}

// A place in a lane that comes together with the end of the context is given back.
func TestLane(t *testing.T) {
	ended, cancel := context.WithCancel(context.Background())
	cancel()
	l := make(lane, 1)
	for range 100 {
		if l.enter(ended) {
			t.Fatal("a place for a request that has ended")
		}
	}
	if len(l) != 0 {
		t.Error("the place is lost")
	}
}

// Work ends with its context, so that a slow list does not outlive its page.
func TestWorkEndsWithContext(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	s := weld()
	works := map[string]func() (*answer, error){
		"image": func() (*answer, error) {
			return s.image(ctx, imageQuery{view: "T-T", setting: recorded(s.record), window: s.window, step: 1e-3})
		},
		"flaws": func() (*answer, error) { return s.flaws(ctx, recorded(s.record)) },
		"ghosts": func() (*answer, error) {
			return s.ghosts(ctx, ghostsQuery{imageQuery{view: "T-T", setting: recorded(s.record), window: s.window, step: 1e-3}, 0.02, 0.009})
		},
	}
	for name, work := range works {
		if _, err := work(); err == nil {
			t.Errorf("%s: no error after the end of the context", name)
		}
	}
}

// The program answers over a real connection on the loopback address, and ends with its context.
func TestServe(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	listener := check.Must(net.Listen("tcp", "127.0.0.1:0"))
	ended := make(chan error)
	go func() { ended <- serve(ctx, listener, newHandler(weld())) }()
	response, err := http.Get("http://" + listener.Addr().String() + "/about")
	if err != nil {
		t.Fatal(err)
	}
	b := check.Must(io.ReadAll(response.Body))
	response.Body.Close()
	if response.StatusCode != 200 || !bytes.Contains(b, []byte(`"weld32"`)) {
		t.Errorf("status %d, %q", response.StatusCode, b)
	}
	cancel()
	if err := <-ended; err != nil {
		t.Error(err)
	}
}
