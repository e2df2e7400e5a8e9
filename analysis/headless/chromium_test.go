package headless

import (
	"bufio"
	"bytes"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"testing"
	"time"
)

// browser is Debian's Chromium, spoken to by the Chrome DevTools Protocol over a pipe.
type browser struct {
	t       *testing.T
	in      *os.File
	replies chan message
	session string
	id      int
	events  []message
}

type message struct {
	ID     int             `json:"id"`
	Method string          `json:"method"`
	Params json.RawMessage `json:"params"`
	Result json.RawMessage `json:"result"`
	Error  *struct {
		Message string `json:"message"`
	} `json:"error"`
}

// newBrowser starts Chromium with one empty page; it skips where there is none.
func newBrowser(t *testing.T) *browser {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		t.Skip("Chromium is not installed")
	}
	theirs, in, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	out, theirOut, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(path, "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--no-first-run", "--disable-background-networking",
		"--user-data-dir="+t.TempDir(), "--remote-debugging-pipe", "about:blank")
	cmd.ExtraFiles = []*os.File{theirs, theirOut} // 3 and 4, as the option has it
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	theirs.Close()
	theirOut.Close()
	b := &browser{t: t, in: in, replies: make(chan message, 1000)}
	go func() {
		defer close(b.replies)
		r := bufio.NewReaderSize(out, 1<<20)
		for {
			text, err := r.ReadBytes(0)
			if err != nil {
				return
			}
			var m message
			if json.Unmarshal(bytes.TrimSuffix(text, []byte{0}), &m) == nil {
				b.replies <- m
			}
		}
	}()
	t.Cleanup(func() {
		b.call("Browser.close", nil)
		in.Close()
		done := make(chan struct{})
		go func() { cmd.Wait(); close(done) }()
		select {
		case <-done:
		case <-time.After(20 * time.Second):
			cmd.Process.Kill()
			<-done
		}
		out.Close()
	})
	var made struct{ TargetID string }
	b.into(b.call("Target.createTarget", map[string]any{"url": "about:blank"}), &made)
	var joined struct{ SessionID string }
	b.into(b.call("Target.attachToTarget", map[string]any{"targetId": made.TargetID, "flatten": true}), &joined)
	b.session = joined.SessionID
	for _, d := range []string{"Page", "Runtime", "Network", "Log"} {
		b.call(d+".enable", nil)
	}
	return b
}

// call asks and returns the answer; what happened meanwhile is kept in events.
func (b *browser) call(method string, params any) json.RawMessage {
	b.t.Helper()
	b.id++
	m := map[string]any{"id": b.id, "method": method}
	if params != nil {
		m["params"] = params
	}
	if b.session != "" && method != "Browser.close" {
		m["sessionId"] = b.session
	}
	text, err := json.Marshal(m)
	if err != nil {
		b.t.Fatal(err)
	}
	if _, err := b.in.Write(append(text, 0)); err != nil {
		return nil // it is gone
	}
	late := time.After(90 * time.Second)
	for {
		select {
		case m, ok := <-b.replies:
			switch {
			case !ok:
				return nil
			case m.ID == b.id && m.Error != nil:
				b.t.Fatalf("%s: %s", method, m.Error.Message)
			case m.ID == b.id:
				return m.Result
			}
			b.events = append(b.events, m)
		case <-late:
			b.t.Fatalf("%s: no answer", method)
		}
	}
}

func (b *browser) into(text json.RawMessage, to any) {
	b.t.Helper()
	if err := json.Unmarshal(text, to); err != nil {
		b.t.Fatalf("%s: %v", text, err)
	}
}

// size gives the page a width and a height in CSS pixels.
func (b *browser) size(w, h int) {
	b.t.Helper()
	b.call("Emulation.setDeviceMetricsOverride", map[string]any{"width": w, "height": h, "deviceScaleFactor": 1, "mobile": w < 500})
	b.eval("new Promise(d => requestAnimationFrame(() => requestAnimationFrame(() => d(1))))", nil)
}

// open shows a file and waits until it is drawn.
func (b *browser) open(path string) {
	b.t.Helper()
	b.call("Page.navigate", map[string]any{"url": "file://" + path})
	for range 600 {
		var ready bool
		b.eval(`document.readyState === "complete" && location.protocol === "file:"`, &ready)
		if ready {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	b.t.Fatal("the page is never complete")
}

// eval runs a script in the page and returns its value.
func (b *browser) eval(script string, to any) {
	b.t.Helper()
	var r struct {
		Result struct {
			Value json.RawMessage
		}
		ExceptionDetails *struct {
			Text      string
			Exception struct{ Description string }
		}
	}
	b.into(b.call("Runtime.evaluate", map[string]any{"expression": script, "returnByValue": true, "awaitPromise": true}), &r)
	if e := r.ExceptionDetails; e != nil {
		b.t.Fatalf("%s: %s %s", script, e.Text, e.Exception.Description)
	}
	if to != nil {
		b.into(r.Result.Value, to)
	}
}

// key presses a key.
func (b *browser) key(key string) {
	b.t.Helper()
	p := map[string]any{"type": "keyDown", "key": key}
	if len(key) == 1 {
		p["text"] = key
	}
	b.call("Input.dispatchKeyEvent", p)
	b.call("Input.dispatchKeyEvent", map[string]any{"type": "keyUp", "key": key})
}

// shot writes what the page shows to a file, for a person to look at.
func (b *browser) shot(path string) {
	b.t.Helper()
	var r struct{ Data string }
	b.into(b.call("Page.captureScreenshot", map[string]any{"format": "png"}), &r)
	text, err := base64.StdEncoding.DecodeString(r.Data)
	if err != nil {
		b.t.Fatal(err)
	}
	if err := os.WriteFile(path, text, 0o600); err != nil {
		b.t.Fatal(err)
	}
}

// errors returns what went wrong in the page so far: exceptions of its script, and what the
// browser logs as an error, such as what its policy forbids.
func (b *browser) errors() (out []string) {
	for _, e := range b.events {
		switch e.Method {
		case "Runtime.exceptionThrown":
			out = append(out, string(e.Params))
		case "Log.entryAdded":
			var p struct{ Entry struct{ Level, Text string } }
			if json.Unmarshal(e.Params, &p); p.Entry.Level == "error" {
				out = append(out, p.Entry.Text)
			}
		}
	}
	return out
}

// requests returns the addresses that the page asked for, but for what is in it.
func (b *browser) requests() (out []string) {
	for _, e := range b.events {
		if e.Method != "Network.requestWillBeSent" {
			continue
		}
		var p struct{ Request struct{ URL string } }
		if err := json.Unmarshal(e.Params, &p); err != nil {
			out = append(out, fmt.Sprint(err))
		} else if u := p.Request.URL; len(u) < 5 || u[:5] != "data:" {
			out = append(out, u)
		}
	}
	return out
}
