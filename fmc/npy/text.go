// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"fmt"
	"unicode"
	"unicode/utf8"
)

// maxText is the greatest length, in bytes of UTF-8, of a title, the name of a medium or the text
// of a note.
const maxText = 1000

// maxName is the greatest length, in bytes of UTF-8, of a file name or the name of a note. Most
// file systems do not accept longer names.
const maxName = 255

// validateText checks that a text can be printed on any terminal. The text must be one line of
// valid UTF-8 with at most the given number of bytes. Every character must be visible or a space.
// path names the field. Every text of a set-up goes through this check.
func validateText(path, text string, most int) error {
	if len(text) > most {
		return setupError(path, fmt.Sprintf("of %d bytes", len(text)),
			fmt.Sprintf("%d bytes at most", most))
	}
	if !utf8.ValidString(text) {
		return setupError(path, quoted(text), "UTF-8")
	}
	for _, r := range text {
		if hidden(r) {
			return setupError(path, quoted(text),
				fmt.Sprintf("one line of visible text without the character %U", r))
		}
	}
	return nil
}

// hidden reports whether r is a control character, a format character, a separator of lines or
// paragraphs, or the character that replaces damaged text. Such characters move the cursor, change
// the order of the characters beside them or are invisible. The two joiners are allowed, because
// Persian and the scripts of India need them.
func hidden(r rune) bool {
	const nonJoiner, joiner = '\u200c', '\u200d'
	if r == nonJoiner || r == joiner {
		return false
	}
	return r == unicode.ReplacementChar ||
		unicode.In(r, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp)
}

// quoted returns the beginning of a text for an error message, in quotes, with every invisible
// character escaped.
func quoted(text string) string { return fmt.Sprintf("%.100q", text) }
