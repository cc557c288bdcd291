// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.fuzz;

import java.util.List;

/** A kind of input: how one is made of a fuzzer's decisions, and what must hold for it. */
interface Target {
    /** Packages under test, of which coverage is told; each with the packages below it. */
    List<String> packages();

    /** Ending of the name of a file that holds an input. */
    String extension();

    /** Done once: what takes long the first time is done before anything is measured. */
    void warmUp();

    byte[] input(Choices choices);

    /**
     * Hands an input to the program and looks at what comes out.
     *
     * @return what the program made of it, in few words: inputs with other words than any before are changed further
     * @throws Oracle.Finding if something is not as it must be; any other exception or error is a finding too
     */
    String check(byte[] input, boolean everyCommand);

    /** Of so many inputs one goes through every command. */
    int eachCommand();
}
