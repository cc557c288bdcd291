// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.gpu;

import java.util.function.DoubleUnaryOperator;

/**
 * What the library said to one question.
 *
 * @param code as it came; {@link Code}
 * @param value in the library's unit, a finite number; NaN unless the code is success, and where success says nothing usable
 */
record Answer(int code, double value) {
    Answer {
        value = code == Code.SUCCESS && Double.isFinite(value) ? value : Double.NaN;
    }

    static Answer of(int code, double value) {
        return new Answer(code, value);
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
