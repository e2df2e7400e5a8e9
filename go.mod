module stopladder

go 1.26.0

require (
	fyne.io/fyne/v2 v2.7.4 // indirect
	github.com/alecthomas/kong v1.17.0 // indirect
	github.com/bep/imagemeta v1.0.1 // indirect
	github.com/kovidgoyal/go-parallel v1.1.1 // indirect
	github.com/kovidgoyal/go-shm v1.0.0 // indirect
	github.com/kovidgoyal/imaging v1.9.0 // indirect
	github.com/lucasb-eyer/go-colorful v1.4.1 // indirect
	github.com/rogpeppe/go-internal v1.16.0 // indirect
	github.com/rwcarlsen/goexif v0.0.0-20190401172101-9e8deecbddbd // indirect
	github.com/rymdport/portal v0.4.2 // indirect
	github.com/santhosh-tekuri/jsonschema/v6 v6.0.3 // indirect
	golang.org/x/image v0.47.0 // indirect
	golang.org/x/sys v0.49.0 // indirect
	golang.org/x/text v0.43.0 // indirect
	gonum.org/v1/gonum v0.17.0 // indirect
)
