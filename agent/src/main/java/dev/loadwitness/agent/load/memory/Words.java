// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.memory;

/** Memory as a march test sees it: words of 64 bits at addresses from 0. */
interface Words {
    int size();

    long read(int address);

    void write(int address, long word);
}
