// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"net"
	"net/http"
	"net/netip"
)

// policy allows the page its own files, and nothing from elsewhere.
const policy = "default-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// guard passes only requests of the own page on this computer to the next handler. A page of
// another site may not use this server through the browser of the user. The headers Origin and
// Sec-Fetch-Site show such a request. If the other site has a name that leads to this computer
// (DNS rebinding), the header Host shows it.
func guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		if status, why := refuse(r); why != "" {
			http.Error(w, why, status)
			return
		}
		next.ServeHTTP(w, r)
	})
}

// refuse returns why a request is refused, or an empty text.
func refuse(r *http.Request) (status int, why string) {
	if !fromHere(r.RemoteAddr) {
		return http.StatusForbidden, "want a request from this computer"
	}
	if !ownHost(r) {
		return http.StatusMisdirectedRequest, "host: want the address that the program printed"
	}
	if origin := r.Header.Get("Origin"); origin != "" && origin != "http://"+r.Host {
		return http.StatusForbidden, "origin: want the own page"
	}
	if site := r.Header.Get("Sec-Fetch-Site"); site != "" && site != "same-origin" && site != "none" {
		return http.StatusForbidden, "want a request of the own page"
	}
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		return http.StatusMethodNotAllowed, "method: want GET or HEAD"
	}
	if r.ContentLength != 0 {
		return http.StatusRequestEntityTooLarge, "want a request without a body"
	}
	return 0, ""
}

// fromHere reports whether an address with a port is an address of this computer.
func fromHere(address string) bool {
	a, err := netip.ParseAddrPort(address)
	return err == nil && a.Addr().Unmap().IsLoopback()
}

// ownHost reports whether the host of a request is this computer, with the port of the server.
func ownHost(r *http.Request) bool {
	local, ok := r.Context().Value(http.LocalAddrContextKey).(net.Addr)
	if !ok {
		return false
	}
	_, port, err := net.SplitHostPort(local.String())
	if err != nil {
		return false
	}
	return r.Host == net.JoinHostPort("127.0.0.1", port) || r.Host == net.JoinHostPort("localhost", port)
}
