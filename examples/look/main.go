// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Look shows the images of a capture on a page that moves. Change the wave speed, the wedge or the
// thickness, and see the echoes move, go out of focus and come back.
//
//	go run ./examples/look
//	go run ./examples/look -capture testdata/sdh32.json
//
// Look prints an address of this computer. Open it in a browser. Nothing is installed, nothing is
// loaded from elsewhere, and no network is needed. The server answers this computer only.
//
// # What to look at
//
// Move the transverse speed of weld32 by 1 %. The peak of the fusion face moves by 0.4 mm, and its
// level falls by less than 0.1 dB. So a wrong speed moves a flaw long before anyone sees a blur.
// The wedge angle moves the peak by 1 mm for each degree. At 10 % of speed the level has fallen by
// 4 dB.
//
// A click puts the reading point on a pixel. Below the image are then the trace
// that adds most to this pixel, and the A-scan of a beam through it.
//
// # What it does not show
//
// The page shows one capture. A real set-up is calibrated on reference blocks, and not by the look
// of an image: several errors of a set-up may compensate each other at one flaw. A picture is
// evidence, and no verdict. Qualified personnel judge it by the applicable code.
//
// # For contributors
//
// Each request holds the whole set-up, so the server keeps no state of a page. capture.go holds
// what is read once. setting.go lists the parts of the set-up that may change, with their ranges.
// query.go reads a request. guard.go refuses requests that do not come from the own page.
// image.go, pair.go, beam.go, ghosts.go and flaws.go each answer one kind of request. The page is
// in the folder page, without a build step. .ci/look opens it in a browser without a screen.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"os"
	"os/signal"
	"strconv"
	"time"
)

func main() {
	log.SetFlags(0)
	name := flag.String("capture", "testdata/weld32.json", "the set-up `FILE` of the capture")
	port := flag.Uint("port", 0, "the `PORT` of the page on this computer; 0 takes a free one")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, os.Stdout, *name, *port); err != nil {
		log.Fatal(err)
	}
}

// run serves the page until ctx ends.
func run(ctx context.Context, w io.Writer, name string, port uint) error {
	if flag.NArg() > 0 {
		return fmt.Errorf("argument %q: want flags only; -h lists them", flag.Arg(0))
	}
	if port > 65535 {
		return fmt.Errorf("-port %d: want 0 to 65535", port)
	}
	source, err := open(name)
	if err != nil {
		return err
	}
	// Only programs of this computer reach this address.
	listener, err := net.Listen("tcp", net.JoinHostPort("127.0.0.1", strconv.FormatUint(uint64(port), 10)))
	if err != nil {
		return err
	}
	fmt.Fprintf(w, "%s is shown at http://%s; Ctrl+C ends\n", source.name, listener.Addr())
	return serve(ctx, listener, newHandler(source))
}

// serve answers requests until ctx ends.
func serve(ctx context.Context, listener net.Listener, handler http.Handler) error {
	server := &http.Server{
		Handler:           handler,
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       10 * time.Second,
		WriteTimeout:      5 * time.Minute, // a list of flaws of a large capture takes long
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    16 << 10,
	}
	// Close ends the contexts of all requests.
	stopped := context.AfterFunc(ctx, func() { server.Close() })
	defer stopped()
	if err := server.Serve(listener); !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
}
