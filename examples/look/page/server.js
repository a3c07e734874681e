// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Questions to the server.

// ask sends a question. It returns the head of the answer, its numbers, and the times in ms that the
// server took (answer.go describes the bytes).
export async function ask(path, values, signal) {
  const response = await fetch(`${path}?${new URLSearchParams(values)}`, { signal });
  if (!response.ok) {
    throw new Error((await response.text()).trim());
  }
  const bytes = await response.arrayBuffer();
  const length = new DataView(bytes).getUint32(0, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(bytes, 4, length)));
  return { head, numbers: new Float32Array(bytes, 4 + length), times: times(response.headers.get("Server-Timing")) };
}

// times reads the header Server-Timing.
function times(text) {
  const all = {};
  for (const [, name, ms] of (text ?? "").matchAll(/(\w+);dur=([\d.]+)/g)) {
    all[name] = Number(ms);
  }
  return all;
}

// Channel asks one kind of question, one at a time. Of the questions that come while one is on its
// way, only the last is asked. A question that is marked as slow is given up if another one comes.
export class Channel {
  constructor(path, answered, failed) {
    Object.assign(this, { path, answered, failed, waiting: null, running: null });
  }

  send(values, { slow = false } = {}) {
    this.waiting = { values, slow };
    if (this.running?.slow) {
      this.running.control.abort();
    }
    if (!this.running) {
      this.next();
    }
  }

  // stop gives up all questions.
  stop() {
    this.waiting = null;
    this.running?.control.abort();
  }

  async next() {
    const question = this.waiting;
    this.waiting = null;
    if (!question) {
      return;
    }
    const control = new AbortController();
    this.running = { control, slow: question.slow };
    try {
      const answer = await ask(this.path, question.values, control.signal);
      if (!control.signal.aborted) {
        this.answered(answer, question);
      }
    } catch (error) {
      if (!control.signal.aborted) {
        this.failed(error);
      }
    }
    this.running = null;
    this.next();
  }
}
