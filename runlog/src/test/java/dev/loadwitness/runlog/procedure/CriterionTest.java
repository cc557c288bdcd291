// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import static org.assertj.core.api.Assertions.assertThat;

import java.lang.reflect.Field;
import java.util.Arrays;
import java.util.List;
import java.util.Locale;
import java.util.stream.Collectors;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.EnumSource;

class CriterionTest {
    @Test
    void noTwoCriteriaShareARankAmongCauses() {
        assertThat(Arrays.stream(Criterion.values()).map(Criterion::rank)).doesNotHaveDuplicates();
    }

    @Test
    void everyParameterThatIsDescribedBelongsToTheCriterionThatItStandsUnder() {
        for (Class<?> holder : Parameters.class.getDeclaredClasses()) {
            String name = holder.getSimpleName().replaceAll("(?<!^)([A-Z])", "_$1");
            List<Object> described = Arrays.stream(holder.getDeclaredFields())
                    .filter(field -> field.getType() == Parameter.class)
                    .map(CriterionTest::value)
                    .toList();

            assertThat(described).isNotEmpty();
            assertThat(Criterion.valueOf(name.toUpperCase(Locale.ROOT)).parameters())
                    .as(name)
                    .containsExactlyElementsOf(
                            described.stream().map(p -> (Parameter<?>) p).collect(Collectors.toList()));
        }
    }

    private static Object value(Field field) {
        try {
            return field.get(null);
        } catch (IllegalAccessException e) {
            throw new AssertionError(e);
        }
    }

    @ParameterizedTest
    @EnumSource(CustomerQuestion.class)
    void everyQuestionIsAnsweredBySomeCriterion(CustomerQuestion question) {
        assertThat(Criterion.values()).anyMatch(criterion -> criterion.question() == question);
    }
}
