// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stream

import (
	"context"
	"io"
	"sync"

	"github.com/isochron-imaging/isochron/tfm"
)

// run is one loop over a stream: a goroutine that reads, and goroutines that image.
//
// A slot goes from free to the reader, and from the reader to both order and queue. From the queue
// it goes to a worker, and from order to the loop. The loop puts it back to free. All channels hold
// all slots, so that only receiving waits.
type run struct {
	ctx     context.Context // of the caller
	imaging context.Context // ends when the loop ends
	free    chan *slot
	queue   chan *slot    // to image
	order   chan *slot    // to deliver
	turn    chan struct{} // holds the right to take a frame from the queue
	err     error         // of the source or of ctx; valid when order is closed
	group   sync.WaitGroup
	cancel  func()
}

// start starts the goroutines.
func (s *Stream) start(ctx context.Context, source Source) *run {
	reading, cancelReading := context.WithCancel(ctx)
	imaging, cancelImaging := context.WithCancel(context.WithoutCancel(ctx))
	r := &run{
		ctx:     ctx,
		imaging: imaging,
		free:    make(chan *slot, len(s.slots)),
		queue:   make(chan *slot, len(s.slots)),
		order:   make(chan *slot, len(s.slots)),
		turn:    make(chan struct{}, 1),
		cancel:  func() { cancelReading(); cancelImaging() },
	}
	r.turn <- struct{}{}
	for _, slot := range s.slots {
		slot.reset()
		r.free <- slot
	}
	r.group.Go(func() { r.read(reading, source) })
	for _, scratches := range s.scratches {
		r.group.Go(func() { r.work(scratches) })
	}
	return r
}

// stop ends all goroutines, and waits for them.
func (r *run) stop() {
	r.cancel()
	r.group.Wait()
}

// read reads frames until the source or ctx ends.
func (r *run) read(ctx context.Context, source Source) {
	defer close(r.order)
	defer close(r.queue)
	for {
		var slot *slot
		select {
		case slot = <-r.free:
		case <-ctx.Done():
		}
		if r.err = ctx.Err(); r.err != nil {
			return
		}
		if err := slot.read(ctx, source); err != nil {
			if err != io.EOF { // an error that wraps io.EOF is a scan that was cut short
				r.err = err
			}
			return
		}
		r.queue <- slot
		r.order <- slot
	}
}

// work images frames until there is none left.
func (r *run) work(scratches []*tfm.ViewsScratch) {
	for {
		slot, ok := r.take()
		if !ok {
			return
		}
		if !slot.dropped {
			slot.image(r.imaging, scratches)
		}
		slot.done <- struct{}{}
	}
}

// take returns the next frame of the queue, and whether there is one. The frame is dropped if ctx
// has ended. Only the worker whose turn it is takes a frame and looks at ctx. Otherwise a worker
// could drop a frame after another worker has begun a later frame.
func (r *run) take() (s *slot, ok bool) {
	<-r.turn
	defer func() { r.turn <- struct{}{} }()
	s, ok = <-r.queue
	if ok {
		s.dropped = r.ctx.Err() != nil || r.imaging.Err() != nil
	}
	return s, ok
}
