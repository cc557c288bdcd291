// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.common;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import dev.loadwitness.agent.sensor.Discovery;
import dev.loadwitness.agent.sensor.Missing;
import dev.loadwitness.agent.sensor.Source;
import dev.loadwitness.runlog.Channel;
import java.io.IOException;
import java.time.Duration;
import java.util.List;
import java.util.concurrent.CountDownLatch;
import java.util.concurrent.atomic.AtomicLong;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.Timeout;

@Timeout(60)
class OshiSensorsTest {
    private static final Discovery NOTHING = new Discovery(
            List.of(), List.of(new Missing("CPU temperature", "none", ""), new Missing("fan speed", "none", "")));

    private final AtomicLong nanos = new AtomicLong();

    private static final class Stub implements OshiSensors.Readings {
        private double celsius = 61;
        private int[] rpm = {0, 3200};
        private int asked;

        @Override
        public double cpuCelsius() {
            asked++;
            return celsius;
        }

        @Override
        public int[] fanRpm() {
            return rpm.clone();
        }
    }

    private Discovery completing(Discovery found, OshiSensors.Readings readings) {
        return OshiSensors.completing(found, readings, nanos::get, Duration.ofMillis(500));
    }

    @Test
    void fillsWhatWasMissingAndSaysSo() throws IOException {
        Discovery found = completing(NOTHING, new Stub());
        assertThat(found.missing()).isEmpty();
        assertThat(found.channels())
                .extracting(Channel::id)
                .containsExactly("cpu.package.temperature", "fan.oshi.fan1.speed", "fan.oshi.fan2.speed");
        double[] values = new double[3];
        found.sources().get(0).read(values, 0);
        assertThat(values).containsExactly(61, 0, 3200);
    }

    @Test
    void isNotAskedWhereTheKernelsOwnFilesAnswer() {
        Discovery complete = completing(NOTHING, new Stub());
        assertThat(completing(complete, new Stub())).isSameAs(complete);
    }

    @Test
    void isAskedOnceASecondAtMostAndNeverRepeatsAnOldAnswer() throws IOException {
        Stub stub = new Stub();
        Source source = completing(NOTHING, stub).sources().get(0);
        int before = stub.asked;
        double[] values = new double[3];
        source.read(values, 0);
        nanos.addAndGet(Duration.ofMillis(100).toNanos());
        source.read(values, 0);
        assertThat(values).containsOnly(Double.NaN);
        nanos.addAndGet(Duration.ofMillis(880).toNanos());
        source.read(values, 0);
        assertThat(values[0]).isEqualTo(61);
        assertThat(stub.asked - before).isEqualTo(2);
    }

    @Test
    void zeroDegreesMeansNoAnswer() throws IOException {
        Stub stub = new Stub();
        stub.rpm = new int[0];
        Source source = completing(NOTHING, stub).sources().get(0);
        stub.celsius = 0;
        double[] values = new double[1];
        assertThatThrownBy(() -> source.read(values, 0)).isInstanceOf(IOException.class);
        assertThat(completing(NOTHING, stub)).isEqualTo(NOTHING);
    }

    @Test
    void whatItCannotGiveEitherIsMissingAlsoWhereNobodyElseLooked() {
        Stub stub = new Stub();
        stub.celsius = 0;
        Discovery found = completing(new Discovery(List.of(), List.of()), stub);
        assertThat(found.channels()).hasSize(2);
        assertThat(found.missing()).extracting(Missing::what).containsExactly("CPU temperature");
    }

    @Test
    void libraryThatHangsOrFailsIsMissing() {
        CountDownLatch hang = new CountDownLatch(1);
        OshiSensors.Readings hanging = new OshiSensors.Readings() {
            @Override
            public double cpuCelsius() {
                try {
                    hang.await();
                } catch (InterruptedException e) {
                    throw new IllegalStateException(e);
                }
                return 0;
            }

            @Override
            public int[] fanRpm() {
                throw new NoClassDefFoundError("native");
            }
        };
        Discovery found = completing(NOTHING, hanging);
        assertThat(found.sources()).isEmpty();
        assertThat(found.missing()).hasSize(3);
        hang.countDown();
        assertThat(completing(NOTHING, hanging).missing().get(2).why()).contains("NoClassDefFoundError");
    }

    @Test
    void thisMachineIsAskedForReal() {
        Discovery found = OshiSensors.completing(NOTHING);
        assertThat(found.missing().size() + found.sources().size()).isGreaterThanOrEqualTo(1);
        assertThat(found.missing())
                .extracting(Missing::what)
                .doesNotContain("readings through the system's management interface");
    }
}
