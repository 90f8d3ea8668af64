// Package memo remembers what was made before, so that who asks again need not wait: up to
// a weight, and what was asked for last stays longest.
package memo

import (
	"container/list"
	"context"
	"sync"
)

// Memo remembers values by what they were made from. The zero value is empty. It may be used
// from many goroutines; what it gives is shared by all who ask: nobody may change it.
type Memo[K comparable, V any] struct {
	mu     sync.Mutex
	weight int
	order  list.List // of *entry[K, V], what was asked for last first
	by     map[K]*list.Element
}

type entry[K comparable, V any] struct {
	key    K
	value  V
	err    error
	weight int
	ready  chan struct{} // closed when all else is there
	ended  bool          // whoever made it gave up
}

// Get is what was made for a key before, else what reckon gives. Whoever asks for the same meanwhile
// waits for it, or until ctx ends. Errors are not remembered. A value weighs what its method Weight
// says, else 1; together they weigh most at the most.
func (m *Memo[K, V]) Get(ctx context.Context, most int, key K, reckon func() (V, error)) (V, error) {
	for {
		is, mine := m.find(key)
		if mine {
			return m.reckon(ctx, most, is, reckon)
		}
		select {
		case <-is.ready:
		case <-ctx.Done():
			var none V
			return none, context.Cause(ctx)
		}
		if !is.ended { // else whoever made it gave up, and we did not
			return is.value, is.err
		}
	}
}

// find is the entry of a key; mine: it is new, and the caller is to make its value.
func (m *Memo[K, V]) find(key K) (is *entry[K, V], mine bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if e := m.by[key]; e != nil {
		m.order.MoveToFront(e)
		return e.Value.(*entry[K, V]), false
	}
	is = &entry[K, V]{key: key, ready: make(chan struct{})}
	if m.by == nil {
		m.by = map[K]*list.Element{}
	}
	m.by[key] = m.order.PushFront(is)
	return is, true
}

func (m *Memo[K, V]) reckon(ctx context.Context, most int, is *entry[K, V], reckon func() (V, error)) (V, error) {
	done := false
	defer func() { // also where it panics: nobody may wait for ever
		m.mu.Lock()
		defer m.mu.Unlock()
		is.ended = !done || is.err != nil && ctx.Err() != nil
		if is.ended || is.err != nil {
			m.forget(m.by[is.key])
		} else {
			is.weight = 1
			if v, ok := any(is.value).(interface{ Weight() int }); ok {
				is.weight = v.Weight()
			}
			m.weight += is.weight
			m.trim(most)
		}
		close(is.ready)
	}()
	is.value, is.err = reckon()
	done = true
	return is.value, is.err
}

// trim forgets what was asked for longest ago while all that is there weighs too much. What is
// being made weighs nothing yet and stays.
func (m *Memo[K, V]) trim(most int) {
	for e := m.order.Back(); e != nil && m.weight > most; {
		before := e.Prev()
		if e.Value.(*entry[K, V]).weight > 0 {
			m.forget(e)
		}
		e = before
	}
}

func (m *Memo[K, V]) forget(e *list.Element) {
	is := m.order.Remove(e).(*entry[K, V])
	m.weight -= is.weight
	delete(m.by, is.key)
}

// Drop forgets the value of a key where drop says so; what is being made stays.
func (m *Memo[K, V]) Drop(key K, drop func(V) bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if e := m.by[key]; e != nil {
		if is := e.Value.(*entry[K, V]); is.weight > 0 && drop(is.value) {
			m.forget(e)
		}
	}
}

// Weight is what all that is remembered weighs.
func (m *Memo[K, V]) Weight() int {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.weight
}
