package manual

import (
	"regexp"
	"strings"
)

// kind of a block.
type kind int

const (
	paragraph kind = iota
	heading
	item
	table
	code
	picture // text is what it shows
)

// block is a piece of a page: as much of Markdown as the manual is written in.
type block struct {
	kind  kind
	level int        // of a heading, 1 the title; of an item how far in it stands
	mark  string     // of an item: "•" or its number
	text  string     // as it is written, with its marks
	rows  [][]string // of a table, its head first
	file  string     // of a picture
}

var pictured = regexp.MustCompile(`^!\[(.*)\]\(([^)]*)\)$`)

var numbered = regexp.MustCompile(`^(\s*)(\d+\.)\s+(.*)$`)

// blocks takes a page apart.
func blocks(page string) (out []block) {
	lines := strings.Split(strings.ReplaceAll(page, "\r\n", "\n"), "\n")
	open := false // the last block may go on in the next line
	add := func(b block) { out, open = append(out, b), true }
	for i := 0; i < len(lines); i++ {
		line := lines[i]
		bare := strings.TrimSpace(line)
		switch {
		case strings.HasPrefix(bare, "```"):
			var body []string
			for i++; i < len(lines) && !strings.HasPrefix(strings.TrimSpace(lines[i]), "```"); i++ {
				body = append(body, lines[i])
			}
			add(block{kind: code, text: strings.Join(body, "\n")})
			open = false
		case bare == "":
			open = false
		case strings.HasPrefix(line, "    ") && !open:
			var body []string
			for ; i < len(lines) && (strings.HasPrefix(lines[i], "    ") || strings.TrimSpace(lines[i]) == ""); i++ {
				body = append(body, strings.TrimPrefix(lines[i], "    "))
			}
			i--
			add(block{kind: code, text: strings.TrimRight(strings.Join(body, "\n"), "\n")})
			open = false
		case pictured.MatchString(bare):
			m := pictured.FindStringSubmatch(bare)
			add(block{kind: picture, text: m[1], file: m[2]})
			open = false
		case strings.HasPrefix(bare, "#"):
			text := strings.TrimLeft(bare, "#")
			add(block{kind: heading, level: len(bare) - len(text), text: strings.TrimSpace(text)})
			open = false
		case strings.HasPrefix(bare, "|"):
			var rows [][]string
			for ; i < len(lines) && strings.HasPrefix(strings.TrimSpace(lines[i]), "|"); i++ {
				if r := cells(lines[i]); !ruled(r) {
					rows = append(rows, r)
				}
			}
			i--
			add(block{kind: table, rows: rows})
			open = false
		case strings.HasPrefix(bare, "- ") || strings.HasPrefix(bare, "* "):
			add(block{kind: item, level: indent(line), mark: "•", text: bare[2:]})
		case numbered.MatchString(line):
			m := numbered.FindStringSubmatch(line)
			add(block{kind: item, level: indent(line), mark: m[2], text: m[3]})
		case open:
			out[len(out)-1].text += " " + bare
		default:
			add(block{kind: paragraph, text: bare})
		}
	}
	return out
}

func indent(line string) int { return (len(line) - len(strings.TrimLeft(line, " "))) / 2 }

// cells are those of a line of a table; a bar behind a backslash or inside of code parts
// none.
func cells(line string) (out []string) {
	var b strings.Builder
	inside := false
	r := []rune(strings.Trim(strings.TrimSpace(line), "|"))
	for i := 0; i < len(r); i++ {
		switch {
		case r[i] == '\\' && i+1 < len(r) && r[i+1] == '|':
			b.WriteRune('|')
			i++
		case r[i] == '|' && !inside:
			out = append(out, strings.TrimSpace(b.String()))
			b.Reset()
		default:
			if r[i] == '`' {
				inside = !inside
			}
			b.WriteRune(r[i])
		}
	}
	return append(out, strings.TrimSpace(b.String()))
}

// ruled reports whether a line of a table is the rule under its head.
func ruled(row []string) bool {
	for _, c := range row {
		if strings.Trim(c, "-: ") != "" {
			return false
		}
	}
	return true
}

// span is a run of letters that are alike.
type span struct {
	text         string
	bold, italic bool
	code         bool
	link         string
}

var marks = regexp.MustCompile("`([^`]+)`|\\*\\*((?:\\\\.|[^*])+)\\*\\*|\\*([^*\\s][^*]*)\\*|!?\\[([^\\]]*)\\]\\(([^)\\s]+)\\)|\\\\([\\\\`*_{}\\[\\]()#+.!|<>~-])")

// spans takes the text of a block apart.
func spans(text string) (out []span) {
	add := func(s span) {
		if s.text != "" {
			out = append(out, s)
		}
	}
	for {
		m := marks.FindStringSubmatchIndex(text)
		if m == nil {
			add(span{text: text})
			return merged(out)
		}
		add(span{text: text[:m[0]]})
		part := func(k int) string {
			if m[2*k] < 0 {
				return ""
			}
			return text[m[2*k]:m[2*k+1]]
		}
		switch {
		case m[2] >= 0:
			add(span{text: part(1), code: true})
		case m[4] >= 0:
			for _, s := range spans(part(2)) {
				s.bold = true
				add(s)
			}
		case m[6] >= 0:
			for _, s := range spans(part(3)) {
				s.italic = true
				add(s)
			}
		case m[8] >= 0:
			add(span{text: plain(part(4)), link: part(5)})
		default:
			add(span{text: part(6)})
		}
		text = text[m[1]:]
	}
}

// merged joins neighbours that are alike.
func merged(in []span) (out []span) {
	for _, s := range in {
		if n := len(out); n > 0 {
			a, b := out[n-1], s
			a.text, b.text = "", ""
			if a == b && s.link == "" {
				out[n-1].text += s.text
				continue
			}
		}
		out = append(out, s)
	}
	return out
}

// plain is a text without its marks.
func plain(text string) string {
	var b strings.Builder
	for _, s := range spans(text) {
		b.WriteString(s.text)
	}
	return b.String()
}

// anchor is what a heading can be linked by, as the places that show Markdown make it.
func anchor(title string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == ' ' || r == '-':
			return '-'
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r == '_':
			return r
		}
		return -1
	}, strings.ToLower(title))
}
