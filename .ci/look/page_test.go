// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package look

import (
	"bufio"
	"context"
	"flag"
	"fmt"
	"io"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// root is the folder of the library.
const root = "../.."

// program builds examples/look once, and returns the name of the file.
var program = sync.OnceValues(func() (string, error) {
	folder, err := os.MkdirTemp("", "look")
	if err != nil {
		return "", err
	}
	name := filepath.Join(folder, "look")
	build := exec.Command("go", "build", "-o", name, "./examples/look")
	build.Dir = root
	if out, err := build.CombinedOutput(); err != nil {
		return "", fmt.Errorf("%w\n%s", err, out)
	}
	return name, nil
})

// server is a running program.
type server struct {
	address string
	process *os.Process
}

// start starts the program with a capture of testdata. It ends with the test.
func start(t *testing.T, capture string) server {
	t.Helper()
	name, err := program()
	if err != nil {
		t.Fatal(err)
	}
	command := exec.Command(name, "-capture", filepath.Join("testdata", capture+".json"))
	command.Dir = root
	command.Stderr = os.Stderr
	out, err := command.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := command.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		command.Process.Kill()
		command.Wait()
	})
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatal("the program printed no address: ", err)
	}
	go io.Copy(io.Discard, out)
	_, rest, _ := strings.Cut(line, "http://")
	address, _, _ := strings.Cut(rest, ";")
	return server{"http://" + address, command.Process}
}

// page is a page in a browser, with what it did.
type page struct {
	context.Context
	mu       sync.Mutex
	troubles []string // messages on the console and exceptions
	hosts    map[string]bool
}

// browser is a browser without a screen, in which each page is a tab. It ends with the tests.
var browser = sync.OnceValues(func() (context.Context, error) {
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.NoSandbox,
		// No name leads anywhere: the page must work without a network.
		chromedp.Flag("host-resolver-rules", "MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"))
	ctx, _ := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, end := chromedp.NewContext(ctx)
	atEnd = append(atEnd, end)
	return ctx, chromedp.Do(ctx)
})

// atEnd holds what is done after all tests.
var atEnd []func()

func TestMain(m *testing.M) {
	code := m.Run()
	for _, end := range atEnd {
		end()
	}
	os.Exit(code)
}

// show opens the page of a server, and waits for its first image.
func show(t *testing.T, s server, width, height int64, scheme string) *page {
	t.Helper()
	parent, err := browser()
	if err != nil {
		t.Fatal("a browser is missing, such as chromium: ", err)
	}
	ctx, cancel := chromedp.NewContext(parent)
	t.Cleanup(cancel)
	p := &page{Context: ctx, hosts: map[string]bool{}}
	if err := chromedp.Listen(ctx, p.listen); err != nil {
		t.Fatal(err)
	}
	call(t, p, network.Enable, network.EnableParams{})
	call(t, p, runtime.Enable, cdp.Empty{})
	call(t, p, log.Enable, cdp.Empty{})
	call(t, p, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}},
	})
	do(t, p, chromedp.EmulateViewport(width, height))
	do(t, p, chromedp.Navigate(s.address))
	p.settle(t)
	return p
}

// settle waits until the image and its indications belong to the setting.
func (p *page) settle(t *testing.T) {
	t.Helper()
	p.wait(t, `document.querySelector('#indications[aria-busy="false"]') !== null`)
}

// settleAll waits also for the flaws, which take longer.
func (p *page) settleAll(t *testing.T) {
	t.Helper()
	p.settle(t)
	p.wait(t, `document.querySelector('#flaws[aria-busy="false"]') !== null`)
}

// wait waits until an expression is true.
func (p *page) wait(t *testing.T, expression string) {
	t.Helper()
	do(t, p, chromedp.Poll[any](expression, chromedp.WithPollingTimeout(2*time.Minute), chromedp.WithPollingInterval(50*time.Millisecond)))
}

// text returns the text of an element.
func (p *page) text(t *testing.T, selector string) string {
	t.Helper()
	return do(t, p, chromedp.Evaluate[string](fmt.Sprintf("document.querySelector(%q).textContent", selector)))
}

// count returns the number of elements.
func (p *page) count(t *testing.T, selector string) int {
	t.Helper()
	return do(t, p, chromedp.Evaluate[int](fmt.Sprintf("document.querySelectorAll(%q).length", selector)))
}

// press presses a key a number of times, with the focus on an element.
func (p *page) press(t *testing.T, selector, key string, times int) {
	t.Helper()
	p.focus(t, selector)
	for range times {
		do(t, p, chromedp.KeyEvent(key))
	}
}

// focus gives an element the focus.
func (p *page) focus(t *testing.T, selector string) {
	t.Helper()
	do(t, p, chromedp.Evaluate[chromedp.Void](fmt.Sprintf("document.querySelector(%q).focus()", selector)))
}

// over moves the pointer over the middle of an element.
func (p *page) over(t *testing.T, selector string) {
	t.Helper()
	at := do(t, p, chromedp.Evaluate[[2]float64](fmt.Sprintf(`(() => {
		const e = document.querySelector(%q);
		e.scrollIntoView({ block: "nearest" });
		const b = e.getBoundingClientRect();
		return [b.left + b.width / 2, b.top + b.height / 2];
	})()`, selector)))
	do(t, p, chromedp.MouseEvent(chromedp.MouseMoved, at[0], at[1]))
}

var shots = flag.String("shots", "", "the `FOLDER` for pictures of the page; none by default")

// photograph writes a picture of the window, and one of the whole page, if the flag asks for it.
func (p *page) photograph(t *testing.T, name string) {
	t.Helper()
	if *shots == "" {
		return
	}
	p.settleAll(t)
	for suffix, action := range map[string]chromedp.Action[[]byte]{
		".png": chromedp.CaptureScreenshot(), "_whole.png": chromedp.FullScreenshot(100),
	} {
		if err := os.WriteFile(filepath.Join(*shots, name+suffix), do(t, p, action), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// clean checks that the page reported nothing and asked no other server.
func (p *page) clean(t *testing.T, s server) {
	t.Helper()
	p.mu.Lock()
	defer p.mu.Unlock()
	if len(p.troubles) > 0 {
		t.Errorf("the page says %q", p.troubles)
	}
	own := strings.TrimPrefix(s.address, "http://")
	for host := range p.hosts {
		if host != own {
			t.Errorf("the page asks %q; want only %s", host, own)
		}
	}
	if !p.hosts[own] {
		t.Error("no request was seen")
	}
}

// call runs a command of the protocol in a page.
func call[P, R any](t *testing.T, p *page, command cdp.Command[P, R], params P) {
	t.Helper()
	if _, err := chromedp.Call(p, command, params); err != nil {
		t.Fatal(err)
	}
}

// do runs an action in a page, and returns its value.
func do[T any](t *testing.T, p *page, action chromedp.Action[T]) T {
	t.Helper()
	v, err := chromedp.Run(p, action)
	if err != nil {
		p.mu.Lock()
		defer p.mu.Unlock()
		t.Fatalf("%v; the page says %q", err, p.troubles)
	}
	return v
}

// listen notes what a page does.
func (p *page) listen(event any) {
	p.mu.Lock()
	defer p.mu.Unlock()
	switch e := event.(type) {
	case *runtime.EventConsoleAPICalled:
		p.troubles = append(p.troubles, fmt.Sprintf("console.%s %v", e.Type, values(e.Args)))
	case *runtime.EventExceptionThrown:
		p.troubles = append(p.troubles, fmt.Sprintf("%s %v", e.ExceptionDetails.Text, e.ExceptionDetails.Exception))
	case *log.EventEntryAdded:
		p.troubles = append(p.troubles, fmt.Sprintf("%s: %s %s", e.Entry.Level, e.Entry.Text, e.Entry.URL))
	case *network.EventRequestWillBeSent:
		if u, err := url.Parse(e.Request.URL); err == nil {
			p.hosts[u.Host] = true
		}
	}
}

// values returns the values of remote objects.
func values(objects []*runtime.RemoteObject) (all []string) {
	for _, o := range objects {
		all = append(all, string(o.Value)+o.Description)
	}
	return all
}
