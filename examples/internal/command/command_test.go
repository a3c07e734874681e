// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package command

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestDo checks the exit codes, the output and the errors.
func TestDo(t *testing.T) {
	work := t.TempDir()
	t.Chdir(work)
	work, err := os.Getwd() // with links resolved
	if err != nil {
		t.Fatal(err)
	}
	for _, test := range []struct {
		name   string
		args   []string
		fail   error
		code   int
		stdout []string
		stderr []string
	}{
		{"work", []string{"-n", "3"}, nil, OK, []string{"n is 3"}, nil},
		{"help", []string{"-h"}, nil, OK, []string{"About it.", "go run ./examples/test", "-n count", "Notes.", "Exit codes: 0"}, nil},
		{"unknown flag", []string{"-x"}, nil, Fail, nil, []string{"test: ", "-x"}},
		{"argument", []string{"file"}, nil, Fail, nil, []string{`argument "file"`, "-h"}},
		{"relative path", nil, open("missing"), Fail, nil, []string{"missing", "from the folder " + work}},
		{"absolute path", nil, open(filepath.Join(work, "missing")), Fail, nil, []string{"missing"}},
		{"lines and control characters", nil, errors.New("one\ntwo\x1b[2J\a"), Fail, nil, []string{"test: one two [2J\n"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			var n int
			c := Command{
				Name: "test", About: "About it.", Notes: "Notes.",
				Flags: func(fs *flag.FlagSet) { fs.IntVar(&n, "n", 0, "the `count`") },
				Run: func(_ context.Context, out, progress io.Writer) error {
					fmt.Fprint(progress, "progress")
					if test.fail == nil {
						fmt.Fprintln(out, "n is", n)
					}
					return test.fail
				},
			}
			var stdout, stderr bytes.Buffer
			if code := c.Do(t.Context(), test.args, &stdout, &stderr); code != test.code {
				t.Errorf("exit code %d, want %d", code, test.code)
			}
			for _, out := range []struct {
				name string
				got  string
				want []string
			}{{"stdout", stdout.String(), test.stdout}, {"stderr", stderr.String(), test.stderr}} {
				for _, word := range out.want {
					if !strings.Contains(out.got, word) {
						t.Errorf("%s %q, want %q in it", out.name, out.got, word)
					}
				}
				if len(out.want) == 0 && out.got != "" {
					t.Errorf("%s %q, want nothing", out.name, out.got)
				}
			}
			if test.name == "absolute path" && strings.Contains(stderr.String(), "from the folder") {
				t.Errorf("%q names the folder twice", stderr.String())
			}
		})
	}
}

func open(name string) error {
	_, err := os.Open(name)
	return fmt.Errorf("wrapped: %w", err)
}
