// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.gpu;

import java.util.function.DoubleUnaryOperator;

/**
 * What the library said to one question.
 *
 * @param code as it came; {@link Code}
 * @param value in the library's unit; NaN unless the code is success, and where success says nothing usable
 */
record Answer(int code, double value) {
    static Answer of(int code, double value) {
        return new Answer(code, code == Code.SUCCESS ? value : Double.NaN);
    }

    static Answer failed(int code) {
        return new Answer(code, Double.NaN);
    }

    boolean isThere() {
        return code == Code.SUCCESS;
    }

    Answer map(DoubleUnaryOperator f) {
        return of(code, f.applyAsDouble(value));
    }
}
