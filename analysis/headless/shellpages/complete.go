package shellpages

import (
	"fmt"
	"strings"

	"github.com/alecthomas/kong"
)

// Bash returns completions for bash: commands, then their flags, then the values of flags
// that have few, and files for the rest. programs are the names it is for.
func Bash(app *kong.Application, programs ...string) string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	name := "_" + strings.ReplaceAll(app.Name, "-", "_")
	line("# Completions for %s. Made from its command definitions.", strings.Join(programs, " and "))
	line("%s() {", name)
	line(`  local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD-1]} command=${COMP_WORDS[1]} words=`)
	line(`  [ "$before" = "=" ] && before=${COMP_WORDS[COMP_CWORD-2]}`)
	line(`  [ "$word" = "=" ] && word=`)
	line("  COMPREPLY=()")
	line(`  if [ "$COMP_CWORD" -eq 1 ]; then`)
	line(`    COMPREPLY=($(compgen -W "%s" -- "$word") $(compgen -f -- "$word"))`, strings.Join(names(app), " "))
	line("    return")
	line("  fi")
	line(`  case "$command $before" in`)
	for _, c := range shown(app) {
		for _, f := range flags(c) {
			if v := values(f); len(v) > 0 {
				line(`    "%s --%s") COMPREPLY=($(compgen -W "%s" -- "$word")); return ;;`, c.Name, f.Name, strings.Join(v, " "))
			}
		}
	}
	line("  esac")
	line(`  case "$command" in`)
	for _, c := range shown(app) {
		var all []string
		for _, f := range flags(c) {
			all = append(all, "--"+f.Name)
		}
		line(`    %s) words="%s" ;;`, c.Name, strings.Join(append(all, "--help"), " "))
	}
	line("  esac")
	line(`  case "$word" in`)
	line(`    -*) COMPREPLY=($(compgen -W "$words" -- "$word")) ;;`)
	line(`    *) COMPREPLY=($(compgen -f -- "$word")) ;;`)
	line("  esac")
	line("}")
	for _, p := range programs {
		line("complete -o filenames -F %s %s", name, p)
	}
	return b.String()
}

// Zsh returns completions for zsh.
func Zsh(app *kong.Application, programs ...string) string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line("#compdef %s", strings.Join(programs, " "))
	line("# Made from the program's command definitions.")
	line("_%s() {", app.Name)
	line("  local -a commands")
	line("  commands=(")
	for _, c := range shown(app) {
		line("    %s", single(c.Name+":"+c.Help))
	}
	line("  )")
	line("  if (( CURRENT == 2 )); then")
	line("    _describe command commands")
	line("    _files")
	line("    return")
	line("  fi")
	line("  local command=$words[2]")
	line("  shift words; (( CURRENT-- ))")
	line("  case $command in")
	for _, c := range shown(app) {
		line("    %s)", c.Name)
		line("      _arguments \\")
		for _, f := range flags(c) {
			text := strings.NewReplacer("[", "(", "]", ")", ":", " ").Replace(f.Help)
			spec := "--" + f.Name + "[" + text + "]"
			if p := placeholder(f); p != "" {
				action := "_files"
				if v := values(f); len(v) > 0 {
					action = "(" + strings.Join(v, " ") + ")"
				}
				spec = "--" + f.Name + "=[" + text + "]:" + strings.ReplaceAll(p, ":", " ") + ":" + action
			}
			line("        %s \\", single(spec))
		}
		line("        '*:file:_files' ;;")
	}
	line("  esac")
	line("}")
	line(`_%s "$@"`, app.Name)
	return b.String()
}

// Fish returns completions for fish.
func Fish(app *kong.Application, programs ...string) string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line("# Made from the program's command definitions.")
	for _, p := range programs {
		for _, c := range shown(app) {
			line("complete -c %s -n __fish_use_subcommand -a %s -d %s", p, c.Name, single(c.Help))
			for _, f := range flags(c) {
				s := fmt.Sprintf("complete -c %s -n %s -l %s -d %s", p, single("__fish_seen_subcommand_from "+c.Name), f.Name, single(f.Help))
				if f.Short != 0 {
					s += " -s " + string(f.Short)
				}
				if v := values(f); len(v) > 0 {
					s += " -x -a " + single(strings.Join(v, " "))
				} else if placeholder(f) != "" {
					s += " -r"
				}
				line("%s", s)
			}
		}
	}
	return b.String()
}

// single quotes for a shell.
func single(s string) string { return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'" }

func shown(app *kong.Application) (out []*kong.Node) {
	for _, c := range app.Children {
		if !c.Hidden {
			out = append(out, c)
		}
	}
	return out
}

func names(app *kong.Application) (out []string) {
	for _, c := range shown(app) {
		out = append(out, c.Name)
	}
	return out
}

// values are those that a flag can have, where its definition says them all.
func values(f *kong.Flag) (out []string) {
	for _, v := range f.EnumSlice() {
		if v = strings.TrimSpace(v); v != "" {
			out = append(out, v)
		}
	}
	return out
}
