// SPDX-License-Identifier: Apache-2.0
/** Signs finished PDF bytes and checks them again. Knows bytes and keys; has never heard of a verdict. */
package dev.loadwitness.reporter.signature;
