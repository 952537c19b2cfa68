// Package crew is the crew's page: a shell, modules, a style sheet and a service worker, embedded as they are, and the shape of
// the data they work from.
//
// # How it works without a network
//
// The shell says nothing about anybody, so one copy of it serves everybody from a cache. Every file has the hash of all of
// them in its address (/crew/HASH/crew.mjs): a page never runs modules of two versions, and a browser may keep each for ever. The
// service worker (static/cache.mjs) takes a version in whole or not at all. The day's data comes from /api/crew and is
// kept on the device (static/store.mjs) with the queue of what is not sent yet (static/queue.mjs).
//
// # What it must not know
//
// Records, plans, audit, fiber. It is handed a Day; its modules judge nothing but whether a window is open by the clock and
// whether a value is outside the limits it was given.
package crew
