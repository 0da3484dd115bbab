package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"time"
)

// printTime is how long a browser may take to print a page.
const printTime = 3 * time.Minute

// findBrowser looks for a browser that prints without a window.
func findBrowser() (string, error) {
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path, nil
		}
	}
	var places []string
	switch runtime.GOOS {
	case "darwin":
		places = []string{"/Applications/Chromium.app/Contents/MacOS/Chromium", "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome"}
	case "windows":
		for _, v := range []string{"ProgramFiles", "ProgramFiles(x86)", "LocalAppData"} {
			if dir := os.Getenv(v); dir != "" {
				places = append(places, filepath.Join(dir, "Chromium", "Application", "chrome.exe"), filepath.Join(dir, "Google", "Chrome", "Application", "chrome.exe"))
			}
		}
	}
	for _, path := range places {
		if info, err := os.Stat(path); err == nil && !info.IsDir() {
			return path, nil
		}
	}
	return "", errors.New("no Chromium or Chrome was found to print with; install one, or open the page in any browser and print it from there")
}

// printPage prints a page as PDF, on letter or a4, through a browser.
func printPage(page []byte, paper string) ([]byte, error) {
	browser, err := findBrowser()
	if err != nil {
		return nil, err
	}
	dir, err := os.MkdirTemp("", "corewalk-")
	if err != nil {
		return nil, cannotWrite(os.TempDir(), err)
	}
	defer os.RemoveAll(dir)
	defer onInterrupt(func() { os.RemoveAll(dir) })()
	head := bytes.Index(page, []byte("</head>"))
	if head < 0 {
		return nil, errors.New("the page is not one that corewalk wrote; write it anew")
	}
	source, printed := filepath.Join(dir, "page.html"), filepath.Join(dir, "page.pdf")
	sized := fmt.Sprintf("%s<style>@page { size: %s; }</style>%s", page[:head], paper, page[head:])
	if err := os.WriteFile(source, []byte(sized), 0o600); err != nil {
		return nil, cannotWrite(source, err)
	}
	args := []string{
		"--headless", "--disable-gpu", "--no-first-run", "--no-default-browser-check", "--disable-extensions", "--disable-sync",
		"--disable-background-networking", "--disable-component-update", "--no-pdf-header-footer",
		"--user-data-dir=" + filepath.Join(dir, "profile"), "--print-to-pdf=" + printed,
	}
	if os.Geteuid() == 0 {
		args = append(args, "--no-sandbox") // which it refuses to have for root
	}
	ctx, cancel := context.WithTimeout(context.Background(), printTime)
	defer cancel()
	c := exec.CommandContext(ctx, browser, append(args, fileURL(source))...)
	c.WaitDelay = 5 * time.Second
	said, err := c.CombinedOutput()
	pdf, missing := os.ReadFile(printed)
	switch {
	case ctx.Err() != nil:
		return nil, fmt.Errorf("%s did not print the page within %s; open the page and print it from there", browser, printTime)
	case err != nil:
		return nil, fmt.Errorf("%s could not print the page: %w: %s", browser, err, lastLine(said))
	case missing != nil || !bytes.HasPrefix(pdf, []byte("%PDF-")):
		return nil, fmt.Errorf("%s printed nothing: %s", browser, lastLine(said))
	}
	return pdf, nil
}

func lastLine(said []byte) string {
	lines := strings.Split(strings.TrimSpace(string(said)), "\n")
	return lines[len(lines)-1]
}

func fileURL(path string) string {
	path = filepath.ToSlash(path)
	if !strings.HasPrefix(path, "/") {
		path = "/" + path // a drive letter
	}
	return (&url.URL{Scheme: "file", Path: path}).String()
}

// opener is what opens files on this machine.
func opener() string {
	switch runtime.GOOS {
	case "darwin":
		return "open"
	case "windows":
		return "rundll32"
	}
	return "xdg-open"
}

// openPage hands a page to what the machine opens such files with.
func openPage(path string) error {
	abs, err := filepath.Abs(path)
	if err != nil {
		return err
	}
	args := []string{abs}
	if runtime.GOOS == "windows" {
		args = []string{"url.dll,FileProtocolHandler", abs}
	}
	if said, err := exec.Command(opener(), args...).CombinedOutput(); err != nil {
		if errors.Is(err, exec.ErrNotFound) {
			return fmt.Errorf("%s is not installed, which opens files here; open %s yourself", opener(), path)
		}
		return fmt.Errorf("%s could not open %s: %w: %s", opener(), path, err, lastLine(said))
	}
	return nil
}
