// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import static org.assertj.core.api.Assertions.assertThat;

import java.util.Arrays;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.EnumSource;

class CriterionTest {
    @Test
    void noTwoCriteriaShareARankAmongCauses() {
        assertThat(Arrays.stream(Criterion.values()).map(Criterion::rank)).doesNotHaveDuplicates();
    }

    @ParameterizedTest
    @EnumSource(CustomerQuestion.class)
    void everyQuestionIsAnsweredBySomeCriterion(CustomerQuestion question) {
        assertThat(Criterion.values()).anyMatch(criterion -> criterion.question() == question);
    }
}
