package main

import (
	"fmt"
	"io"
	"sync"
	"time"
)

// progress tells how far a run is.
type progress struct {
	to       io.Writer     // nil: nobody is told
	every    time.Duration // between two lines
	sameLine bool          // one line, written over and over

	mu               sync.Mutex
	of, done, failed int
	began, told      time.Time
	width            int
}

func (p *progress) begin(of int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.of, p.began = of, time.Now()
	p.told = p.began
}

func (p *progress) did(failed bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.done++
	if failed {
		p.failed++
	}
	if p.to == nil || time.Since(p.told) < p.every {
		return
	}
	p.told = time.Now()
	p.tell(p.line(time.Since(p.began)))
}

// line is one line of progress.
func (p *progress) line(since time.Duration) string {
	rate := float64(p.done) / since.Seconds()
	left := time.Duration(float64(p.of-p.done) / rate * float64(time.Second)).Round(time.Second)
	text := fmt.Sprintf("%d of %d fields, %.1f a second, %s left", p.done, p.of, rate, left)
	if p.failed > 0 {
		text += fmt.Sprintf(", %d failed", p.failed)
	}
	return text
}

func (p *progress) tell(text string) {
	if !p.sameLine {
		fmt.Fprintln(p.to, text)
		return
	}
	fmt.Fprintf(p.to, "\r%-*s", p.width, text)
	p.width = len(text)
}

// end clears the line, for what is said next.
func (p *progress) end() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.to != nil && p.sameLine && p.width > 0 {
		fmt.Fprintf(p.to, "\r%*s\r", p.width, "")
	}
}
