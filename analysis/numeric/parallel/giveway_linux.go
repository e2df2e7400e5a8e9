package parallel

import "syscall"

// niceness is how far such threads stand back: at 10 a thread gets about a tenth of a
// processor that another wants whole (sched(7): each step is about a quarter).
const niceness = 10

// giveWay has the calling thread give way to others; on Linux priorities are of threads
// (setpriority(2), under "C library/kernel differences"). Where it is not allowed the
// thread goes on as it was.
func giveWay() { _ = syscall.Setpriority(syscall.PRIO_PROCESS, 0, niceness) }
