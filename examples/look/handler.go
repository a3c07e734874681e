// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"embed"
	"io/fs"
	"log"
	"net/http"
)

//go:embed page
var page embed.FS

// lane limits how many requests work at a time. The others wait, or end with their context.
type lane chan struct{}

// enter waits for a place in the lane. It reports whether there is one before ctx ends.
func (l lane) enter(ctx context.Context) bool {
	select {
	case l <- struct{}{}:
		if ctx.Err() == nil {
			return true
		}
		l.leave() // both were possible
	case <-ctx.Done():
	}
	return false
}

func (l lane) leave() { <-l }

// newHandler returns the handler of all requests.
func newHandler(s *source) http.Handler {
	files, err := fs.Sub(page, "page")
	if err != nil {
		panic(err) // the name of a folder that is part of the program
	}
	// Slow work does not keep images waiting.
	quick, slow := make(lane, 2), make(lane, 1)
	mux := http.NewServeMux()
	mux.Handle("/", http.FileServerFS(files))
	mux.Handle("/about", reply(quick, func(_ context.Context, q *query) (*answer, error) {
		if err := q.done(); err != nil {
			return nil, bad{err}
		}
		return &answer{head: s.about()}, nil
	}))
	mux.Handle("/image", reply(quick, func(ctx context.Context, q *query) (*answer, error) {
		r, err := s.readImage(q, s.window.step(40_000), maxPixels)
		if err != nil {
			return nil, bad{err}
		}
		return s.image(ctx, r)
	}))
	mux.Handle("/pair", reply(quick, func(ctx context.Context, q *query) (*answer, error) {
		r, err := s.readPoint(q)
		if err != nil {
			return nil, bad{err}
		}
		return s.pair(ctx, r)
	}))
	mux.Handle("/beam", reply(quick, func(ctx context.Context, q *query) (*answer, error) {
		r, err := s.readBeam(q)
		if err != nil {
			return nil, bad{err}
		}
		return s.beam(ctx, r)
	}))
	mux.Handle("/ghosts", reply(slow, func(ctx context.Context, q *query) (*answer, error) {
		r, err := s.readGhosts(q)
		if err != nil {
			return nil, bad{err}
		}
		return s.ghosts(ctx, r)
	}))
	mux.Handle("/flaws", reply(slow, func(ctx context.Context, q *query) (*answer, error) {
		now := s.readSetting(q)
		if err := q.done(); err != nil {
			return nil, bad{err}
		}
		return s.flaws(ctx, now)
	}))
	return guard(mux)
}

// bad is the error of a request that is not as the server wants it.
type bad struct{ error }

// reply returns a handler that reads the query, waits for a place in a lane, and sends an answer.
// The work ends early if the page no longer wants the answer, because the browser then closes the
// connection.
func reply(l lane, work func(context.Context, *query) (*answer, error)) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		ctx := r.Context()
		if !l.enter(ctx) {
			return
		}
		defer l.leave()
		a, err := work(ctx, parseQuery(r.URL.RawQuery))
		switch e := err.(type) {
		case nil:
			if err := a.send(w); err != nil && ctx.Err() == nil {
				log.Print(err)
			}
		case bad:
			http.Error(w, e.Error(), http.StatusBadRequest)
		default:
			if ctx.Err() == nil {
				http.Error(w, e.Error(), http.StatusUnprocessableEntity)
			}
		}
	})
}
