package parallel

import "syscall"

// stepBack is by how much such threads stand back: at 5 a thread gets about a quarter of a
// processor that another of the program wants whole (sched(7): each step is about a quarter),
// and beside other programs that are busy a roll is still measured in good time.
const stepBack = 5

// giveWay has the calling thread give way to others of the program; on Linux priorities are
// of threads (setpriority(2), under "C library/kernel differences"). Where it is not allowed
// the thread goes on as it was.
func giveWay() {
	if now, err := syscall.Getpriority(syscall.PRIO_PROCESS, 0); err == nil {
		_ = syscall.Setpriority(syscall.PRIO_PROCESS, 0, min(leastNice, mostFirst-now+stepBack))
	}
}

// ordinary is the priority of the program's other threads.
var ordinary, _ = syscall.Getpriority(syscall.PRIO_PROCESS, 0)

// givesWay reports whether the calling thread does. Such a thread runs one goroutine alone,
// so that it tells of the goroutine too.
func givesWay() bool {
	now, err := syscall.Getpriority(syscall.PRIO_PROCESS, 0)
	return err == nil && now < ordinary
}

// The system call, unlike the library's, counts priorities from 40, the most first, to 1.
const (
	mostFirst = 20 // less it is the niceness
	leastNice = 19
)
