package main

import (
	"regexp/syntax"
	"strings"
)

// matching is a text that matches a pattern of the contract. Unbounded repeats are kept
// short.
func (g *gen) matching(pattern string) string {
	parsed, err := syntax.Parse(pattern, syntax.Perl)
	if err != nil {
		return g.pick(plainTexts)
	}
	var b strings.Builder
	g.walk(&b, parsed.Simplify())
	return b.String()
}

func (g *gen) walk(b *strings.Builder, r *syntax.Regexp) {
	switch r.Op {
	case syntax.OpLiteral:
		b.WriteString(string(r.Rune))
	case syntax.OpCharClass:
		b.WriteRune(g.within(r.Rune))
	case syntax.OpAnyChar, syntax.OpAnyCharNotNL:
		b.WriteRune(rune('a' + g.below(26)))
	case syntax.OpConcat, syntax.OpCapture:
		for _, sub := range r.Sub {
			g.walk(b, sub)
		}
	case syntax.OpAlternate:
		g.walk(b, r.Sub[g.below(len(r.Sub))])
	case syntax.OpStar, syntax.OpPlus, syntax.OpQuest:
		least, most := 0, 6
		if r.Op == syntax.OpPlus {
			least = 1
		}
		if r.Op == syntax.OpQuest {
			most = 1
		}
		for range least + g.below(most-least+1) {
			g.walk(b, r.Sub[0])
		}
	}
}

// within is a character of a class, a readable one where the class has any.
func (g *gen) within(ranges []rune) rune {
	has := func(c rune) bool {
		for i := 0; i < len(ranges); i += 2 {
			if ranges[i] <= c && c <= ranges[i+1] {
				return true
			}
		}
		return false
	}
	for range 20 {
		if c := rune(g.pick(readable)[0]); has(c) {
			return c
		}
	}
	at := 2 * g.below(len(ranges)/2)
	return ranges[at] + rune(g.below(int(min(ranges[at+1]-ranges[at], 100))+1))
}

var readable = strings.Split("abcdefghijklmnopqrstuvwxyzABCDEFGHXYZ0123456789-/. ", "")
