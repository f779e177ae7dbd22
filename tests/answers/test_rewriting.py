"""Every formula task, rewritten as people and algebra rewrite: what is equal is right, what is nearly so is wrong."""

import pytest

from susgeo.answers import Lesson

RIGHT = {
    "02.3": ["(s_L*c_U - s_U*c_L)/(s_L - s_U)", "c_U + s_U*(c_U - c_L)/(s_L - s_U)", "c_L + s_L*(c_U - c_L)/(s_L - tan(atan(s_U)))"],
    "03.3": ["100*tan(atan2(z_IC, x_IC))*L/h", "100*z_IC/x_IC/(h/L)", "100*tan(atan(z_IC/x_IC))/tan(atan(h/L))"],
    "04.3": ["2*k*sin(a)*sqrt(1 - cos(a)^2)", "k*(1 - cos(2*a))", "2*k/(1 + 1/tan(a)^2)", "2*k*(1 - cos(a)^2)"],
    "05.3": [
        "l*(1-sqrt(1-d^2/l^2))", "l*(1-sqrt(1-(d/l)^2))", "l - l*sqrt(1-d^2/l^2)", "l*(1-cos(asin(d/l)))",
        "l - sqrt((l - d)*(l + d))", "d^2/(l + sqrt(l^2 - d^2))", "2*l*sin(asin(d/l)/2)^2", "d*tan(asin(d/l)/2)",
        "l - l*sin(acos(d/l))", "l - d/tan(asin(d/l))", "l - sqrt(l - d)*sqrt(l + d)",
    ],
    "07.3": ["z_IC*(t_f/2)/(t_f/2 - y_IC)", "z_IC/(1 - 2*y_IC/t_f)", "t_f*z_IC/(t_f - 2*y_IC)"],
    "09.3": [
        "l*(sqrt(1-((c_1+d)/l)^2) - sqrt(1-(c_1/l)^2))", "l*sqrt(1-(c_1+d)^2/l^2) - l*sqrt(1-c_1^2/l^2)",
        "l*cos(asin((c_1+d)/l)) - l*cos(asin(c_1/l))", "l*sin(acos((c_1+d)/l)) - l*sin(acos(c_1/l))",
        "-(2*c_1*d + d^2)/(sqrt(l^2-(c_1+d)^2) + sqrt(l^2-c_1^2))",
        "sqrt(l-c_1-d)*sqrt(l+c_1+d) - sqrt(l^2-c_1^2)",
    ],
    "10.3": ["-F*l_L*z_E/(2*b_L*(z_E-z_D))", "-F*z_E/(z_E-z_D)/2/cos(acos(b_L/l_L))"],
}  # fmt: skip
WRONG = {
    "02.3": ["c_L + s_L*(c_U - c_L)/(s_L - sqrt(s_U)^2)", "sin(asin(c_L)) + s_L*(c_U - c_L)/(s_L - s_U)",
             "c_L + s_L*abs(c_L - c_U)/abs(s_L - s_U)", "c_L + s_L*(c_U - c_L)/(abs(s_L) + abs(s_U))"],
    "00.4": ["dx*sqrt(1 + (dy/dx)^2 + (dz/dx)^2)", "sqrt(dx)^2 + 0*dy"],
    "03.3": ["100*abs(z_IC/x_IC)*L/h", "100*sqrt(z_IC^2)/x_IC*L/h"],
    "06.3": ["z_P + abs(x_P)*(z_Q - z_P)/(x_Q + abs(x_P))", "z_P - sqrt(x_P)^2*(z_Q - z_P)/(x_Q - x_P)"],
    "07.3": ["z_IC*(t_f/2)/(t_f/2 + abs(y_IC))", "z_IC*(t_f/2)/(t_f/2 + sqrt(y_IC^2))"],
    "09.3": ["sqrt(l^2-(abs(c_1)+d)^2) - sqrt(l^2-c_1^2)", "sqrt(l^2-(c_1-d)^2) - sqrt(l^2-c_1^2)"],
}  # fmt: skip


def kind(key, text):
    return Lesson(key.split(".")[0]).check(key, text, keep=False).kind


@pytest.mark.parametrize(("key", "text"), [(key, text) for key, texts in RIGHT.items() for text in texts])
def test_the_forms_of_textbooks_are_right(key, text):
    assert kind(key, text) == "right"


@pytest.mark.parametrize(("key", "text"), [(key, text) for key, texts in WRONG.items() for text in texts])
def test_what_holds_for_one_sign_only_or_has_no_real_value_on_many_cars_is_wrong(key, text):
    assert kind(key, text) == "wrong"
