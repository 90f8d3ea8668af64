// Package plans keeps plans and quotes as they were made.
package plans
