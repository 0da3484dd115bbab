//go:build reference

package main

import (
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
)

// turned is how far a wheel was turned, down the page. The protocol wants both
// directions, and its encoder leaves a 0 out.
func turned(delta float64) chromedp.MouseOption {
	return func(p *input.DispatchMouseEventParams) { p.DeltaX, p.DeltaY = 1e-6, delta }
}

// pinch spreads two fingers at a place of the window.
func pinch(b *tab, x, y float64) {
	b.Helper()
	for i, kind := range []input.DispatchTouchEventType{input.DispatchTouchEventTypeTouchStart, input.DispatchTouchEventTypeTouchMove, input.DispatchTouchEventTypeTouchMove, input.DispatchTouchEventTypeTouchMove, input.DispatchTouchEventTypeTouchEnd} {
		p := input.DispatchTouchEventParams{Type: kind, TouchPoints: []*input.TouchPoint{}}
		if kind != input.DispatchTouchEventTypeTouchEnd {
			apart := 20 + 20*float64(i)
			p.TouchPoints = []*input.TouchPoint{{X: x - apart, Y: y, ID: new(0.0)}, {X: x + apart, Y: y, ID: new(1.0)}}
		}
		if _, err := chromedp.Call(b.ctx, input.DispatchTouchEvent, p); err != nil {
			b.Fatal(err)
		}
	}
}
