// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.signature;

/** What is wrong with a key, a passphrase or a document; the message says what, where, and what to do. */
public final class SigningException extends Exception {
    private static final long serialVersionUID = 1L;

    SigningException(String message) {
        super(message);
    }

    SigningException(String message, Throwable cause) {
        super(message, cause);
    }
}
