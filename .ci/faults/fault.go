// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
)

// fault is one change of one file.
type fault struct {
	file       string // absolute path
	source     []byte // of the whole file, unchanged
	line       int
	start, end int    // bytes of the source that change
	text       string // what replaces them
}

// changed returns the file with the fault in it.
func (f *fault) changed() []byte {
	return bytes.Join([][]byte{f.source[:f.start], []byte(f.text), f.source[f.end:]}, nil)
}

// String returns the place and the change.
func (f *fault) String() string {
	return fmt.Sprintf("%s:%d  %s  becomes  %s   in   %s", filepath.Base(f.file), f.line,
		short(string(f.source[f.start:f.end])), short(f.text), f.context())
}

// context returns the line of the fault.
func (f *fault) context() string {
	from := bytes.LastIndexByte(f.source[:f.start], '\n') + 1
	line, _, _ := bytes.Cut(f.source[from:], []byte("\n"))
	return string(bytes.TrimSpace(line))
}

// short cuts a text for printing.
func short(s string) string {
	if s == "" {
		return "nothing"
	}
	if len(s) > 60 {
		return s[:60] + "..."
	}
	return s
}

// faultsOf returns one fault for each place of a package, in an order that the seed decides. Test
// files, generated files and files that are not built on this platform get no faults.
func faultsOf(ctx context.Context, root, target string, seed uint64) ([]fault, error) {
	list := exec.CommandContext(ctx, "go", "list", "-json=Dir,GoFiles", "./"+target)
	list.Dir, list.Stderr = root, os.Stderr
	out, err := list.Output()
	if err != nil {
		return nil, fmt.Errorf("listing %s: %w", target, err)
	}
	var found struct {
		Dir     string
		GoFiles []string
	}
	if err := json.Unmarshal(out, &found); err != nil {
		return nil, err
	}
	random := rand.New(rand.NewPCG(seed, 0))
	var all []fault
	for _, name := range found.GoFiles {
		path := filepath.Join(found.Dir, name)
		source, err := os.ReadFile(path)
		if err != nil {
			return nil, err
		}
		faults, err := faultsIn(path, source, random)
		if err != nil {
			return nil, err
		}
		all = append(all, faults...)
	}
	random.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
	return all, nil
}

// faultsIn returns one fault for each place of a file. Where several changes are
// possible, random takes one.
func faultsIn(path string, source []byte, random *rand.Rand) ([]fault, error) {
	set := token.NewFileSet()
	file, err := parser.ParseFile(set, path, source, parser.ParseComments)
	if err != nil || ast.IsGenerated(file) {
		return nil, err
	}
	var out []fault
	p := places(func(from, to token.Pos, texts ...string) {
		at := set.Position(from)
		out = append(out, fault{path, source, at.Line, at.Offset, set.Position(to).Offset, texts[random.IntN(len(texts))]})
	})
	ast.Inspect(file, func(n ast.Node) bool {
		if g, ok := n.(*ast.GenDecl); ok && g.Tok == token.IMPORT {
			return false
		}
		p.visit(n, func(n ast.Node) string {
			return string(source[set.Position(n.Pos()).Offset:set.Position(n.End()).Offset])
		})
		return true
	})
	return out, nil
}

// operators lists the replacements of each operator.
var operators = map[token.Token][]string{
	token.ADD: {"-"}, token.SUB: {"+"}, token.MUL: {"/"}, token.QUO: {"*"}, token.REM: {"/"},
	token.LSS: {"<=", ">="}, token.LEQ: {"<", ">"}, token.GTR: {">=", "<="}, token.GEQ: {">", "<"},
	token.EQL: {"!="}, token.NEQ: {"=="}, token.LAND: {"||"}, token.LOR: {"&&"},
	token.AND: {"|"}, token.OR: {"&"}, token.XOR: {"&"}, token.SHL: {">>"}, token.SHR: {"<<"},
	token.ADD_ASSIGN: {"-=", "="}, token.SUB_ASSIGN: {"+=", "="}, token.MUL_ASSIGN: {"/=", "="}, token.QUO_ASSIGN: {"*=", "="},
	token.INC: {"--"}, token.DEC: {"++"},
}

// names lists the replacements of each name: another constant, or a function of the same type.
var names = map[string]string{
	"true": "false", "false": "true", "min": "max", "max": "min",
	"Sin": "Cos", "Cos": "Sin", "Floor": "Ceil", "Ceil": "Floor",
}

// places is called with the ends of a place and the texts that may replace it.
type places func(from, to token.Pos, texts ...string)

// operator reports the place of an operator.
func (p places) operator(at token.Pos, op token.Token) {
	if texts := operators[op]; texts != nil {
		p(at, at+token.Pos(len(op.String())), texts...)
	}
}

// visit reports the places of a node itself. text returns the source of a node.
func (p places) visit(n ast.Node, text func(ast.Node) string) {
	switch n := n.(type) {
	case *ast.BinaryExpr:
		p.operator(n.OpPos, n.Op)
	case *ast.AssignStmt:
		p.operator(n.TokPos, n.Tok)
		if n.Tok == token.ASSIGN {
			p(n.Pos(), n.End(), "")
		}
	case *ast.IncDecStmt:
		p.operator(n.TokPos, n.Tok)
	case *ast.ExprStmt:
		p(n.Pos(), n.End(), "")
	case *ast.UnaryExpr:
		if n.Op == token.SUB || n.Op == token.NOT {
			p(n.OpPos, n.OpPos+1, "")
		}
	case *ast.BasicLit:
		p.literal(n)
	case *ast.IndexExpr:
		p(n.Index.Pos(), n.Index.End(), "("+text(n.Index)+")+1", "("+text(n.Index)+")-1")
	case *ast.IfStmt:
		p(n.Cond.Pos(), n.Cond.End(), "!("+text(n.Cond)+")")
	case *ast.BranchStmt:
		if n.Label == nil && n.Tok == token.BREAK {
			p(n.Pos(), n.End(), "continue")
		} else if n.Label == nil && n.Tok == token.CONTINUE {
			p(n.Pos(), n.End(), "break")
		}
	case *ast.Ident:
		if other := names[n.Name]; other != "" {
			p(n.Pos(), n.End(), other)
		}
	case *ast.ReturnStmt:
		if len(n.Results) > 0 {
			if last, ok := n.Results[len(n.Results)-1].(*ast.Ident); ok && last.Name == "err" {
				p(last.Pos(), last.End(), "nil")
			}
		}
	}
}

// literal reports a number: an integer goes up or down by 1, any other number is
// doubled or halved.
func (p places) literal(n *ast.BasicLit) {
	switch n.Kind {
	case token.INT:
		p(n.Pos(), n.End(), "("+n.Value+"+1)", "("+n.Value+"-1)")
	case token.FLOAT:
		if v, err := strconv.ParseFloat(n.Value, 64); err == nil && v != 0 {
			p(n.Pos(), n.End(), "(2*"+n.Value+")", "(0.5*"+n.Value+")")
		}
	}
}
