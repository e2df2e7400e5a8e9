//go:build !linux && !darwin

package main

import "syscall"

func limitMemory(uint64) {}

func limitFile(uint64) {}

func nobody() *syscall.SysProcAttr { return nil }
