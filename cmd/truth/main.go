// Command truth photographs some eighty brackets with the adversary, runs the program's
// analysis on them, and prints one table of how far its readings are from the truth.
//
//	truth                 all rolls as the manual quotes them: 800 pixels, one noise seed
//	truth --only cast     rolls whose name has the word; "dust|glass": one of several
//	truth --seeds 5 --only "seed "   five seeds of the rolls that have them
//	truth --big --only "size "   one film at 900, 2700 and 7000 pixels
//	truth --detail FILE   every single reading beside its truth, tab separated
//	truth --ends FILE     every criterion about the ends of ranges, told and true: why an end is off
//	truth --scans DIR     writes the scans of each roll into a folder of its name, to be opened
//	                      by the program
//	truth --strict        ends with status 1 where a bound is missed
//
// Interrupted, it prints the table of the rolls that are done.
package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"slices"
	"strings"
	"sync"
	"time"
)

func main() {
	only := flag.String("only", "", "run the rolls whose name has this `word`, or one of several that | stands between")
	rows := flag.String("rows", "", "print the rows whose name has this `word`")
	seeds := flag.Int("seeds", 1, "noise seeds of the rolls that have several")
	size := flag.Int("size", 800, "pixels along the longer side of most scans")
	big := flag.Bool("big", false, "scans of 7000 pixels as well (minutes and gigabytes more)")
	strict := flag.Bool("strict", false, "end with status 1 where a bound is missed")
	detail := flag.String("detail", "", "write every reading beside its truth to this `file`, tab separated")
	ends := flag.String("ends", "", "write what every criterion is about the ends of ranges, told and true, to this `file`")
	scans := flag.String("scans", "", "write the scans of each roll into this `folder`, to be opened by the program")
	at := flag.Int("at", 2, "rolls at a time")
	flag.Parse()

	begin := time.Now()
	var list []test
	for _, t := range tests(*seeds, *size, *big) {
		if slices.ContainsFunc(strings.Split(*only, "|"), func(word string) bool { return strings.Contains(t.name, word) }) {
			list = append(list, t)
		}
	}
	if len(list) == 0 {
		fmt.Fprintf(os.Stderr, "truth: no roll has %q in its name\n", *only)
		os.Exit(2)
	}
	book := &book{about: *ends != ""}
	done := make([]*outcome, len(list))
	var wg sync.WaitGroup
	slots := make(chan struct{}, max(1, *at))
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	for i, t := range list {
		slots <- struct{}{}
		if ctx.Err() != nil { // given up: the table of what there is
			break
		}
		wg.Go(func() {
			defer func() { <-slots }()
			o, err := run(ctx, t, *scans)
			if ctx.Err() != nil {
				return
			}
			if err != nil {
				fmt.Fprintf(os.Stderr, "truth: %s: %v\n", t.name, err)
				book.failed(t.name)
				return
			}
			done[i] = o
			for _, name := range t.for_ {
				checks[name](o, book)
			}
			fmt.Fprintf(os.Stderr, "\r%3d of %d  %-40s", i+1, len(list), t.name)
			o.frames, o.truth, o.true_ = nil, nil, nil // megabytes each
		})
	}
	wg.Wait()
	fmt.Fprintln(os.Stderr)
	together(done, book)
	missed := book.print(os.Stdout, *rows)
	n := 0
	for _, o := range done {
		if o != nil {
			n++
		}
	}
	fmt.Printf("%d of %d rolls, %s\n", n, len(list), time.Since(begin).Round(time.Second))
	if *detail != "" {
		if err := book.write(*detail); err != nil {
			fmt.Fprintln(os.Stderr, "truth:", err)
			os.Exit(2)
		}
	}
	if *ends != "" {
		if err := book.writeCourses(*ends); err != nil {
			fmt.Fprintln(os.Stderr, "truth:", err)
			os.Exit(2)
		}
	}
	if *strict && missed > 0 {
		os.Exit(1)
	}
}
